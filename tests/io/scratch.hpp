// SPDX-License-Identifier: MIT
#pragma once

#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <iterator>
#include <random>
#include <string>
#include <string_view>

#include "fettle/error.hpp"

namespace scratch {

/// A folder of its own for one test, removed with all it holds.
class folder {
 public:
  folder() : path_(place() / ("fettle_io_" + std::to_string(std::random_device{}()))) {
    std::filesystem::create_directory(path_);
  }
  folder(const folder&) = delete;
  folder& operator=(const folder&) = delete;
  ~folder() { std::filesystem::remove_all(path_); }

  [[nodiscard]] std::filesystem::path file(const std::string& name) const { return path_ / name; }

  [[nodiscard]] std::filesystem::path file(const std::string& name, std::string_view contents) const {
    std::ofstream(file(name), std::ios::binary) << contents;
    return file(name);
  }

  [[nodiscard]] auto entries() const {
    return std::distance(std::filesystem::directory_iterator(path_), std::filesystem::directory_iterator{});
  }

 private:
  // In memory where that is offered: files are forced to disk, and these tests write thousands.
  [[nodiscard]] static std::filesystem::path place() {
    const std::filesystem::path memory = "/dev/shm";
    return std::filesystem::is_directory(memory) ? memory : std::filesystem::temp_directory_path();
  }
  std::filesystem::path path_;
};

[[nodiscard]] inline std::string contents_of(const std::filesystem::path& file) {
  std::ifstream in(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

/// What a call that must be refused says.
template <class Call>
[[nodiscard]] std::string refusal(Call call) {
  try {
    call();
  } catch (const fettle::error& refused) {
    return refused.what();
  }
  ADD_FAILURE() << "nothing was refused";
  return {};
}

/// The same, without the folder in which the test runs.
template <class Call>
[[nodiscard]] std::string refusal_in(const folder& here, Call call) {
  std::string text = refusal(call);
  const std::string prefix = here.file("").string();
  for (auto at = text.find(prefix); at != std::string::npos; at = text.find(prefix)) text.erase(at, prefix.size());
  return text;
}

}  // namespace scratch

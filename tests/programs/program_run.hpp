// SPDX-License-Identifier: MIT
#pragma once

#include <sys/wait.h>
#include <unistd.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>

namespace program_run {

/// A folder of its own for one test, removed with all in it.
class folder {
 public:
  explicit folder(const std::string& name)
      : path_(std::filesystem::temp_directory_path() / (name + "_" + std::to_string(getpid()))) {
    std::filesystem::remove_all(path_);
    std::filesystem::create_directories(path_);
  }
  folder(const folder&) = delete;
  folder& operator=(const folder&) = delete;
  ~folder() { std::filesystem::remove_all(path_); }

  [[nodiscard]] std::filesystem::path at(const std::string& name) const { return path_ / name; }
  void write(const std::string& name, const std::string& text) const {
    std::ofstream(path_ / name, std::ios::binary) << text;
  }

 private:
  std::filesystem::path path_;
};

[[nodiscard]] inline std::string bytes(const std::filesystem::path& path) {
  std::ifstream in(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

/// Exit code and words of a program.
struct outcome {
  int code = -1;
  std::string said;
};

[[nodiscard]] inline outcome run(const folder& here, const std::string& command) {
  const int status = std::system((command + " >" + here.at("said").string() + " 2>&1").c_str());
  return {WIFEXITED(status) ? WEXITSTATUS(status) : -1, bytes(here.at("said"))};
}

}  // namespace program_run

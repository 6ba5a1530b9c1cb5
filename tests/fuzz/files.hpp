// SPDX-License-Identifier: MIT
#pragma once

#include <sys/mman.h>
#include <unistd.h>

#include <cstddef>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>
#include <string_view>

#include "bytes.hpp"
#include "fettle/error.hpp"

// Files for readers that take a path: in memory, because a disk would take most of the time.
namespace fuzz {

/// A file that the readers open by its path.
class memory_file {
 public:
  explicit memory_file(std::string_view contents) {
    static const int descriptor = ::memfd_create("fuzz", 0);
    law(descriptor >= 0 && ::ftruncate(descriptor, 0) == 0 &&
            ::pwrite(descriptor, contents.data(), contents.size(), 0) == static_cast<ssize_t>(contents.size()),
        "a file in memory can be written");
    path_ = "/proc/self/fd/" + std::to_string(descriptor);
  }
  [[nodiscard]] const std::filesystem::path& path() const { return path_; }

 private:
  std::filesystem::path path_;
};

/// Where a writer may put its file: a folder of this process.
inline std::filesystem::path scratch_path(const char* name) {
  static const struct folder {
    std::filesystem::path path = std::filesystem::temp_directory_path() / ("fettle_fuzz_" + std::to_string(::getpid()));
    folder() { std::filesystem::create_directories(path); }
    ~folder() { std::filesystem::remove_all(path); }
  } here;
  return here.path / name;
}

/// A refusal is one line, fit for a terminal, and names the file.
inline void check_refusal(const fettle::error& refused, const std::filesystem::path& path) {
  const std::string_view text = refused.what();
  law(text.find(path.string()) != std::string_view::npos, "a refusal names the file");
  for (const char c : text) law(static_cast<unsigned char>(c) >= 0x20 && c != 0x7F, "a refusal is one line of text");
}

}  // namespace fuzz

// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <system_error>

namespace fettle::system {

/// The three streams of a program that is run.
struct program_streams {
  std::FILE *in, *out, *err;
};

using file_handle = std::unique_ptr<std::FILE, int (*)(std::FILE*)>;

namespace detail {

/// The first file of this name that may be run, from the folders of PATH; relative folders are not searched.
template <class MayRun>
[[nodiscard]] std::optional<std::filesystem::path> find_in_path(const std::string& name, char separator,
                                                                MayRun&& may_run) {
  const char* variable = std::getenv("PATH");
  for (std::string_view rest = variable != nullptr ? variable : ""; !rest.empty();) {
    const std::string_view folder = rest.substr(0, rest.find(separator));
    rest.remove_prefix((std::min)(folder.size() + 1, rest.size()));
    const std::filesystem::path path = std::filesystem::path(folder) / name;
    std::error_code ignored;
    if (path.is_absolute() && std::filesystem::is_regular_file(path, ignored) && may_run(path)) return path;
  }
  return std::nullopt;
}

}  // namespace detail
}  // namespace fettle::system

// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <filesystem>
#include <string>
#include <system_error>
#include <vector>

#include "fettle/error.hpp"
#include "fettle/io/system.hpp"
#include "fettle/io/text.hpp"

namespace program {

/// Where a program leaves its results.
struct out_folder {
  std::filesystem::path path;
  std::vector<std::string> names;  ///< of all files that it may write there

  /// Files of these names that are there but were not written now: those of an earlier run.
  [[nodiscard]] std::vector<std::filesystem::path> left_over(const std::vector<std::filesystem::path>& written) const {
    std::vector<std::filesystem::path> result;
    for (const auto& name : names)
      if (std::filesystem::exists(path / name) &&
          std::find(written.begin(), written.end(), path / name) == written.end())
        result.push_back(path / name);
    return result;
  }
};

/// Makes sure that results can be written to a folder, or that it can be made, without making it yet.
///
/// Errors: `fettle::error` naming the folder and what is in the way.
inline void require_writable(const std::filesystem::path& folder) {
  std::error_code none;
  std::filesystem::path there = std::filesystem::absolute(folder).lexically_normal();
  while (!std::filesystem::exists(there, none) && there.has_relative_path()) there = there.parent_path();
  if (!std::filesystem::is_directory(there, none))
    throw fettle::error(fettle::path_text(there) +
                        ": is not a folder; give --out a folder, or the name of one to make");
  if (!fettle::system::may_write_in(there))
    throw fettle::error(fettle::path_text(there) + ": cannot be written; give --out a folder that you may write to");
}

}  // namespace program

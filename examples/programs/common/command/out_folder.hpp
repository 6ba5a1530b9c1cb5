// SPDX-License-Identifier: MIT
#pragma once

#include <filesystem>
#include <system_error>

#include "fettle/error.hpp"
#include "fettle/io/system.hpp"

namespace program {

/// Makes sure that results can be written to a folder, or that it can be made, without making it yet.
///
/// Errors: `fettle::error` naming the folder and what is in the way.
inline void require_writable(const std::filesystem::path& folder) {
  std::error_code none;
  std::filesystem::path there = std::filesystem::absolute(folder).lexically_normal();
  while (!std::filesystem::exists(there, none) && there.has_relative_path()) there = there.parent_path();
  if (!std::filesystem::is_directory(there, none))
    throw fettle::error(there.string() + ": is not a folder; give --out a folder, or the name of one to make");
  if (!fettle::system::may_write_in(there))
    throw fettle::error(there.string() + ": cannot be written; give --out a folder that you may write to");
}

}  // namespace program

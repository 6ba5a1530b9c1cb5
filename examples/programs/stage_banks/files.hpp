// SPDX-License-Identifier: MIT
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "stage_banks/job.hpp"

namespace stage_banks {

inline constexpr const char* share_map_name = "share_map.csv";

/// The names of the files that `write_results` writes.
[[nodiscard]] std::vector<std::string> result_names();

/// Writes the results into a folder that exists; returns the files in the order written. A share map that must not be
/// loaded is left out unless it was asked for, and so is the session that loads it.
///
/// Errors: `fettle::error` naming the file that could not be written; each file is whole or untouched.
std::vector<std::filesystem::path> write_results(const outcome& results, const std::string& report,
                                                 const std::filesystem::path& folder);

}  // namespace stage_banks

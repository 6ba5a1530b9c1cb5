// SPDX-License-Identifier: MIT
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "correct_map/outcome.hpp"

namespace correct_map {

inline constexpr const char* corrected_map_name = "corrected_map.csv";
inline constexpr const char* usage_name = "usage.csv";

/// The names of the files that `write_results` writes.
[[nodiscard]] std::vector<std::string> result_names();

/// Writes the results into a folder that exists; returns the files in the order written. A map that must not be loaded
/// is left out unless it was asked for.
///
/// Errors: `fettle::error` naming the file that could not be written; each file is whole or untouched.
std::vector<std::filesystem::path> write_results(const outcome& result, const std::string& report,
                                                 const std::filesystem::path& folder);

}  // namespace correct_map

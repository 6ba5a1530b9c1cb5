// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <filesystem>
#include <string>
#include <vector>

#include "trim_cylinders/job.hpp"

namespace trim_cylinders {

/// The names of the files that `write_results` writes.
[[nodiscard]] std::vector<std::string> result_names(std::size_t cylinders);

/// Writes the results into a folder that exists; returns the files in the order written. Trims that must not be loaded
/// are left out unless they were asked for.
///
/// Errors: `fettle::error` naming the file that could not be written; each file is whole or untouched.
std::vector<std::filesystem::path> write_results(const outcome& result, const std::string& report,
                                                 const std::filesystem::path& folder);

}  // namespace trim_cylinders

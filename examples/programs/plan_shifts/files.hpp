// SPDX-License-Identifier: MIT
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "plan_shifts/job.hpp"

namespace plan_shifts {

/// The names of the files that `write_results` writes.
[[nodiscard]] std::vector<std::string> result_names();

/// Writes the results into a folder that exists; returns the files in the order written.
///
/// Errors: `fettle::error` naming the file that could not be written; each file is whole or untouched.
std::vector<std::filesystem::path> write_results(const outcome& all, const std::string& report,
                                                 const std::filesystem::path& folder);

}  // namespace plan_shifts

// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <filesystem>
#include <string>
#include <vector>

#include "fettle/compiled.hpp"
#include "fettle/io/csv_layout.hpp"

namespace fettle {

/// The beginning of a log, for whoever must find out what its columns are.
///
/// Shape: names, units and columns have one entry per column of the file.
struct log_preview {
  csv_layout layout{};
  std::vector<std::string> names{};
  std::vector<std::string> units{};            ///< of the line under the header; empty texts without one
  std::vector<std::vector<double>> columns{};  ///< NaN for a cell that is no number
};

/// Reads the names, the units and the first rows of a log, whatever its cells hold.
///
/// @param most_rows  to be read.
/// Errors: `fettle::error` for a file that is missing, empty or no text.
[[nodiscard]] FETTLE_INLINE log_preview preview_log_csv(const std::filesystem::path& path,
                                                        std::size_t most_rows = 5000);

}  // namespace fettle

#ifndef FETTLE_COMPILED
#include "fettle/io/detail/log_preview_definition.hpp"
#endif

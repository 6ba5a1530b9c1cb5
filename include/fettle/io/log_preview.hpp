// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <filesystem>
#include <string>
#include <vector>

#include "fettle/io/csv_layout.hpp"
#include "fettle/io/csv_number.hpp"
#include "fettle/io/csv_reader.hpp"

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
[[nodiscard]] inline log_preview preview_log_csv(const std::filesystem::path& path, std::size_t most_rows = 5000) {
  detail::csv_reader reader(path, detail::csv_forms::any);
  log_preview result{.layout = reader.layout(), .names = reader.header(), .units = reader.units()};
  const std::size_t width = result.names.size();
  result.units.resize(width);
  result.columns.resize(width);
  for (std::size_t row = 0; row < most_rows && reader.next(); ++row) {
    auto cells = reader.cells();
    for (std::size_t i = 0; i < width; ++i) {
      if (i < cells.size() && result.layout.decimal == ',') std::replace(cells[i].begin(), cells[i].end(), ',', '.');
      result.columns[i].push_back(i < cells.size() ? detail::number_in(cells[i]).value_or(std::nan("")) : std::nan(""));
    }
  }
  return result;
}

}  // namespace fettle

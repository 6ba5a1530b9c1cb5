// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <filesystem>

#include "fettle/compiled.hpp"
#include "fettle/io/csv_number.hpp"
#include "fettle/io/csv_reader.hpp"
#include "fettle/io/log_preview.hpp"

namespace fettle {

FETTLE_INLINE log_preview preview_log_csv(const std::filesystem::path& path, std::size_t most_rows) {
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

// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <cstddef>
#include <limits>
#include <vector>

#include "fettle/fit/fitted_map.hpp"
#include "fettle/fit/smooth.hpp"
#include "fettle/map/dynamic_table.hpp"

namespace fettle {

struct fill_options {
  smoothness smooth = criterion::reml;
  std::vector<double> standard_error{};  ///< per cell, of its value; or empty: all alike, not known
};

/// Fills the cells of a map that have no value (NaN) from those that have, and gives each a standard error.
///
/// Holes get the smooth surface that `smooth` would lay through the known cells, which stay as they are, to the bit.
/// The standard error of a hole grows with its distance from the known cells.
///
/// Errors: as `smooth`. A hole that the known cells do not determine (fewer than a plane needs) is listed and gets
///         their mean and an infinite error; never NaN. A map without any known cell becomes zero, every cell listed.
/// Cost:   as `smooth`.
/// Source: as `smooth`.
[[nodiscard]] inline fitted_map fill(const dynamic_table<double>& table, const fill_options& options = {}) {
  double sum = 0, known = 0;
  for (const double value : table.values()) {
    if (std::isnan(value)) continue;
    sum += value;
    known += 1;
  }
  const std::vector<double> mean(table.size(), known > 0 ? sum / known : 0.0);
  detail::surface surface(table, options.standard_error, options.smooth);
  fitted_map result = surface.fit(table, mean, options.standard_error);
  for (std::size_t k = 0; k < table.size(); ++k) {
    if (std::isnan(table.values()[k])) continue;
    result.table.values()[k] = table.values()[k];
    result.standard_error[k] = options.standard_error.empty() ? result.noise : options.standard_error[k];
  }
  std::erase_if(result.undetermined, [&](std::size_t k) { return !std::isnan(table.values()[k]); });
  return result;
}

}  // namespace fettle

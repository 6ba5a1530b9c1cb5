// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <cstddef>
#include <span>

#include "fettle/error.hpp"
#include "fettle/map/dynamic_table.hpp"

namespace fettle {

/// The largest difference between changes of neighbouring cells.
struct change_step {
  double size = 0;               ///< of the change's natural logarithm
  std::size_t from = 0, to = 0;  ///< the two cells
};

/// Where a change of a map makes its largest step from one cell to the next along an axis.
///
/// @param applied  per cell: new value over present value, above 0.
/// @param counts   per cell: whether it takes part; a step has two cells that do.
/// Errors: `fettle::error` when there is not one entry per cell.
[[nodiscard]] inline change_step largest_step(const dynamic_table<double>& map, std::span<const double> applied,
                                              const auto& counts) {
  if (applied.size() != map.size() || counts.size() != map.size())
    throw error("largest_step: changes and cells that count must have one entry per cell of the map");
  change_step result;
  std::size_t stride = 1;
  for (std::size_t a = map.rank(); a-- > 0; stride *= map.axes()[a].size())
    for (std::size_t k = 0; k < map.size(); ++k) {
      if (k / stride % map.axes()[a].size() == 0) continue;
      const std::size_t before = k - stride;
      if (!counts[k] || !counts[before]) continue;
      const double size = std::abs(std::log(applied[k] / applied[before]));
      if (size > result.size) result = {.size = size, .from = before, .to = k};
    }
  return result;
}

}  // namespace fettle

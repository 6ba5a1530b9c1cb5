// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <span>
#include <string>
#include <utility>

#include "common/report/map_table.hpp"
#include "fettle/io/map_file.hpp"

namespace report {

/// A table of values over the axes of a map, shown in the order of its file; colours, unit and marks are left to set.
///
/// Shape:  `file` of rank 1 or 2, which must outlive the table; one value per cell.
[[nodiscard]] inline map_table map_over_axes(const fettle::map_file& file, std::string caption,
                                             std::span<const double> values) {
  static constexpr double one_column[] = {0};
  const auto axis = [&](std::size_t a) {
    return map_axis{file.axis_names[a], file.table.axes()[a].points(), bool{file.descending[a]}};
  };
  return {.caption = std::move(caption),
          .rows = axis(0),
          .columns = file.table.rank() == 2 ? axis(1) : map_axis{"", one_column},
          .values = values};
}

}  // namespace report

// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <vector>

#include "fettle/map/dynamic_table.hpp"

namespace fettle::detail {

/// Where the engine was on the first two axes of its map at each row: -1 at the lowest breakpoint, 1 at the highest.
using map_places = std::array<std::vector<double>, 2>;

/// The places of coordinates on one axis.
[[nodiscard]] inline std::vector<double> places_on(const dynamic_axis<double>& axis, std::vector<double> coordinates) {
  const double first = axis.points().front(), last = axis.points().back();
  for (double& x : coordinates) x = std::clamp(2 * (x - first) / (last - first) - 1, -1.0, 1.0);
  return coordinates;
}

}  // namespace fettle::detail

// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/core.h>

#include <cstddef>
#include <string>

#include "fettle/io/map_file.hpp"

namespace session {

/// A cell as its tuner finds it: "rpm 4000, throttle_pct 35".
[[nodiscard]] inline std::string cell_name(const fettle::map_file& map, std::size_t cell) {
  std::string name;
  for (std::size_t a = map.table.rank(); a-- > 0;) {
    const auto& points = map.table.axes()[a].points();
    name = fmt::format("{} {}{}{}", map.axis_names[a], points[cell % points.size()], name.empty() ? "" : ", ", name);
    cell /= points.size();
  }
  return name;
}

}  // namespace session

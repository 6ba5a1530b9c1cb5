// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/core.h>

#include <cstddef>
#include <string>

#include "fettle/io/map_file.hpp"
#include "fettle/map/dynamic_table.hpp"

namespace session {

/// A cell as its tuner finds it: "rpm 4000, throttle_pct 35".
[[nodiscard]] inline std::string cell_name(const fettle::map_file& map, std::size_t cell) {
  const auto at = fettle::cell_coordinates(map.table.axes(), cell);
  std::string name;
  for (std::size_t a = 0; a < at.size(); ++a)
    name += fmt::format("{}{} {}", name.empty() ? "" : ", ", map.axis_names[a], at[a]);
  return name;
}

}  // namespace session

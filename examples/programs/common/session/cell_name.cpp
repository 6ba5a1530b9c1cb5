// SPDX-License-Identifier: MIT
#include "common/session/cell_name.hpp"

#include <fmt/core.h>

namespace session {

std::string cell_name(const fettle::map_file& map, std::size_t cell) {
  const auto at = fettle::cell_coordinates(map.table.axes(), cell);
  std::string name;
  for (std::size_t a = 0; a < at.size(); ++a)
    name += fmt::format("{}{} {}", name.empty() ? "" : ", ", map.axis_names[a], at[a]);
  return name;
}

}  // namespace session

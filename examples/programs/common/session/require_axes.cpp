// SPDX-License-Identifier: MIT
#include "common/session/require_axes.hpp"

#include <fmt/format.h>

#include <cstddef>

namespace session {

void require_axes(const std::filesystem::path& path, const fettle::map_file& map, const fettle::map_file& other,
                  std::string_view whose) {
  if (map.axis_names != other.axis_names)
    throw fettle::error(fmt::format("{}: its axes are {}, expected those of {}, {}", fettle::path_text(path),
                                    fmt::join(map.axis_names, ", "), whose, fmt::join(other.axis_names, ", ")));
  for (std::size_t a = 0; a < other.axis_names.size(); ++a)
    if (map.table.axes()[a] != other.table.axes()[a])
      throw fettle::error(fmt::format(
          "{}: the breakpoints of {} are {}, expected those of {}, {}", fettle::path_text(path), other.axis_names[a],
          fmt::join(map.table.axes()[a].points(), ", "), whose, fmt::join(other.table.axes()[a].points(), ", ")));
}

}  // namespace session

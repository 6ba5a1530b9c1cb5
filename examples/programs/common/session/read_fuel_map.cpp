// SPDX-License-Identifier: MIT
#include "common/session/read_fuel_map.hpp"

#include <fmt/format.h>

#include <cstddef>

namespace session {

fettle::map_file read_fuel_map(const std::filesystem::path& path) {
  fettle::map_file map = fettle::read_map_csv(path);
  for (std::size_t k = 0; k < map.table.size(); ++k)
    if (!(map.table.values()[k] > 0))
      throw fettle::error(fmt::format("{}: cell {} holds {}, expected a value above 0", fettle::path_text(path),
                                      cell_name(map, k), map.table.values()[k]));
  return map;
}

}  // namespace session

// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <string>

#include "fettle/io/map_file.hpp"
#include "fettle/map/dynamic_table.hpp"

namespace session {

/// A cell as its tuner finds it: "rpm 4000, throttle_pct 35".
[[nodiscard]] std::string cell_name(const fettle::map_file& map, std::size_t cell);

}  // namespace session

// SPDX-License-Identifier: MIT
#pragma once

#include <filesystem>

#include "common/session/cell_name.hpp"
#include "fettle/error.hpp"
#include "fettle/io/map_csv.hpp"
#include "fettle/io/map_file.hpp"
#include "fettle/io/text.hpp"

namespace session {

/// A map of fuel, or of what fuel is in proportion to.
///
/// Errors: `fettle::error` as `read_map_csv`, and naming the cell that is not above 0.
[[nodiscard]] fettle::map_file read_fuel_map(const std::filesystem::path& path);

}  // namespace session

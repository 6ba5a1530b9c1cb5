// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <filesystem>
#include <vector>

#include "fettle/error.hpp"
#include "fettle/io/log_csv.hpp"
#include "fettle/io/log_preview.hpp"
#include "fettle/io/map_csv.hpp"
#include "fettle/io/map_file.hpp"
#include "fettle/io/text.hpp"
#include "fettle/map/dynamic_interpolate.hpp"
#include "fettle/map/dynamic_table.hpp"

namespace session {

/// What multiplies the fuel of each cylinder, one map per cylinder; empty: 1 for all.
using trim_maps = std::vector<fettle::map_file>;

/// The first line of a file that has one trim for all operating points, and the name of its only column.
inline constexpr const char* lone_trim_name = "trim";

/// Reads the trim of one cylinder: a map, or a file of one number.
///
/// Errors: `fettle::error` naming the file and what is expected, also where a trim is not above 0.
[[nodiscard]] fettle::map_file read_trim(const std::filesystem::path& path);

[[nodiscard]] trim_maps read_trims(const std::vector<std::filesystem::path>& paths);

/// The value of a trim at a cell of a map.
///
/// Errors: `fettle::error` for a trim over an axis that the map lacks, naming file and axis.
[[nodiscard]] double trim_at_cell(const fettle::map_file& trim, const std::filesystem::path& path,
                                  const fettle::map_file& map, std::size_t cell);

}  // namespace session

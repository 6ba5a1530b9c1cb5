// SPDX-License-Identifier: MIT
#pragma once

#include <filesystem>

#include "fettle/compiled.hpp"
#include "fettle/io/map_file.hpp"

namespace fettle {

/// Reads a map of one or two axes from a CSV file.
///
/// Shape:  two axes: first cell `rpm/throttle_pct` (row axis, column axis), then the column breakpoints; one row per
///         row breakpoint. One axis: a header of two names (axis, value), then two columns. At least two breakpoints
///         per axis, all rising or all falling; cells separated by commas, or by semicolons or tabs, there also with
///         a decimal comma.
/// Errors: `fettle::error` naming file, line, column, what was found and what is expected, for all else.
[[nodiscard]] FETTLE_INLINE map_file read_map_csv(const std::filesystem::path& path,
                                                  empty_cells empty = empty_cells::refused);

/// Writes a map as `read_map_csv` reads it, in the file's own order, atomically.
///
/// Every number is the shortest that reads back as the same double; round the values first for fewer digits.
/// NaN becomes an empty cell.
/// Errors: `fettle::error` naming the path and the reason; an infinite value, an axis name that would not read back and
///         a rank above 2 are refused.
FETTLE_INLINE void write_map_csv(const std::filesystem::path& path, const map_file& map);

}  // namespace fettle

#ifndef FETTLE_COMPILED
#include "fettle/io/detail/map_csv_definition.hpp"
#endif

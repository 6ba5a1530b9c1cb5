// SPDX-License-Identifier: MIT
#pragma once

#include <filesystem>
#include <functional>
#include <span>
#include <string>
#include <vector>

#include "fettle/compiled.hpp"
#include "fettle/io/log_channel.hpp"
#include "fettle/io/log_table.hpp"

namespace fettle {

/// Reads the wanted channels of a log, in the order asked for; the file is never in memory as a whole.
///
/// Shape:  a header of column names, one row per time; an empty cell, `nan`, `n/a`, `-` is NaN: not sampled then.
///         Columns not asked for may hold anything. Accepted beside plain CSV: lines before the header, a line or two of
///         units under it, tabs, a decimal comma between semicolons or tabs, a header in Latin-1, a separator at the end
///         of rows, a header repeated where logs were joined, a last row cut short, time stamps that repeat because the
///         clock is coarser than the rate (their rows are spread evenly), a clock that starts again (its rows follow 10
///         s later). What was found and done is in the notes of the table.
/// Errors: `fettle::error` naming file, line, column, what was found and what is expected: text in a number, `inf` among
///         it; a row with cells too few or too many; no row; a required column missing or there twice. The channel
///         called `time_s`, in seconds, must have a value in every row and may fall only where it starts again, by more
///         than a second. With strict rules all that is not plain CSV is refused.
/// Cost:   linear in bytes; one double per row and channel.
[[nodiscard]] FETTLE_INLINE log_table read_log_csv(const std::filesystem::path& path,
                                                   std::span<const log_channel> wanted, const log_rules& rules = {});

/// Reads the wanted channels row by row, for logs larger than memory, or when sums of them are all that is needed.
///
/// @param use  called with values that are valid for that call: one value per wanted channel, NaN where
///             a cell is empty or the file has no such column.
/// @return     notes as in `log_table`.
/// Shape, Errors: as `read_log_csv`.
/// Cost:       linear in bytes; memory does not grow with the file.
FETTLE_INLINE std::vector<std::string> for_each_log_row(const std::filesystem::path& path,
                                                        std::span<const log_channel> wanted,
                                                        const std::function<void(std::span<const double>)>& use,
                                                        const log_rules& rules = {});

/// Writes a log as `read_log_csv` reads it, NaN as an empty cell, atomically.
///
/// @param decimals  one per column, 0 to 9, for small files; none: every number is the shortest that reads back the same.
/// Errors: `fettle::error` naming the path and the reason; an infinite value and columns of unequal length are
/// refused.
FETTLE_INLINE void write_log_csv(const std::filesystem::path& path, const log_table& log,
                                 std::span<const int> decimals = {});

}  // namespace fettle

#ifndef FETTLE_COMPILED
#include "fettle/io/detail/log_csv_definition.hpp"
#endif

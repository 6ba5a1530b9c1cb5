// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

#include "fettle/compiled.hpp"
#include "fettle/io/message.hpp"

namespace fettle {

/// How a table of text is laid out. The default is plain CSV: RFC 4180, with commas or semicolons.
struct csv_layout {
  char separator = ',';                ///< or ';' or a tab
  char decimal = '.';                  ///< or ','
  std::size_t first_line = 1;          ///< of the header, counted from 1
  std::size_t unit_lines = 0;          ///< under the header, before the first row
  bool is_latin_1 = false;             ///< else UTF-8
  bool is_remark = false;              ///< the header begins with a sign of remarks
  bool rows_end_in_separator = false;  ///< an empty cell that has no name

  /// What is not plain CSV here, in words; empty for a plain file.
  [[nodiscard]] std::vector<std::string> departures() const {
    std::vector<std::string> result;
    if (first_line > 1) result.push_back(detail::message(first_line - 1, " lines before the header are skipped"));
    if (unit_lines > 0)
      result.push_back(detail::message(unit_lines == 1 ? "line " : "lines from ", first_line + 1,
                                       ", under the header, taken as units and skipped"));
    if (separator == '\t') result.emplace_back("cells are separated by tabs");
    if (decimal == ',') result.emplace_back("numbers have a decimal comma");
    if (is_remark) result.emplace_back("the first name of the header is marked as a remark");
    if (is_latin_1) result.emplace_back("the header is not UTF-8, taken as Latin-1");
    if (rows_end_in_separator) result.emplace_back("rows end in a separator, one more than the header has");
    return result;
  }
};

/// Finds the layout of a table from its first lines: the header is the line of names with most cells of numbers under
/// it. Where nothing speaks for another layout it is plain CSV with its header in the first line.
///
/// @param head  the beginning of the file behind its byte-order mark, cut anywhere.
/// Cost:   a pass for each of three separators over at most 200 lines.
[[nodiscard]] FETTLE_INLINE csv_layout find_csv_layout(std::string_view head);

}  // namespace fettle

#ifndef FETTLE_COMPILED
#include "fettle/io/detail/csv_layout_definition.hpp"
#endif

// SPDX-License-Identifier: MIT
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "fettle/map/dynamic_table.hpp"

namespace fettle {

/// A map as a file holds it: its axes by name, and whether the file lists them upwards or downwards.
///
/// Shape: rank 1 or 2. `table` always ascends; `descending` tells the writer to restore the file's own order.
struct map_file {
  std::vector<std::string> axis_names;  ///< row axis, column axis
  dynamic_table<double> table;
  std::vector<bool> descending;      ///< one per axis
  std::string value_name = "value";  ///< rank 1: heads the second column
  char separator = ',';              ///< or ';' or a tab, between cells of the file
  char decimal = '.';                ///< or ',', in its numbers
};

/// What an empty cell of a map file means.
enum class empty_cells : std::uint8_t {
  refused,    ///< a mistake: every value is needed
  are_holes,  ///< a value not known, NaN in the table
};

}  // namespace fettle

// SPDX-License-Identifier: MIT
#pragma once

#include <span>
#include <string>
#include <vector>

#include "common/report/colour.hpp"
#include "common/report/text.hpp"
#include "fettle/error.hpp"

namespace report {

/// One axis of a shown map.
struct map_axis {
  std::string name;                ///< with its unit: `speed in rpm`
  std::span<const double> points;  ///< ascending, as the values are stored
  bool descending = false;         ///< show the last one first, as the file had it
};

/// What a letter or symbol beside a number says.
struct cell_mark {
  char symbol;
  std::string meaning;
};

/// A map as a table of coloured cells, with a legend of its colours and marks.
struct map_table {
  std::string caption;
  map_axis rows, columns;          ///< rank 1: leave `columns.name` empty and give it one point
  std::span<const double> values;  ///< row-major, columns run fastest; what is not finite is shown as "no value"
  int decimals = 1;
  std::string unit{};
  scale colours = sequential{};
  std::span<const char> marks{};         ///< one per value, space for none; empty: no cell has one
  std::vector<cell_mark> meanings{};     ///< of each symbol in `marks`
  std::string unmarked{};                ///< what a cell without a mark is, when others have one
  char outlined = 0;                     ///< cells with this mark have a thick outline
  std::span<const std::string> below{};  ///< a second line in small print, one per value; empty: none
};

/// Maps over the same axes, to be looked at one at a time: a cell pointed at shows its value in all of them.
struct map_set {
  struct entry {
    std::string name;  ///< on the button that shows it
    map_table map;
  };
  std::string label;  ///< before the buttons
  std::vector<entry> maps;
};

/// The table and its legend as HTML, styled by `page`.
///
/// Errors: `fettle::error` when values or marks do not fit the axes, or a mark has no meaning.
[[nodiscard]] std::string html(const map_table& map);

}  // namespace report

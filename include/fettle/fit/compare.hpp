// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <string>
#include <utility>
#include <vector>

#include "fettle/error.hpp"
#include "fettle/fit/cell_text.hpp"
#include "fettle/map/dynamic_table.hpp"

namespace fettle {

/// How one map differs from another on the same axes.
struct map_difference {
  dynamic_table<double> change;      ///< after less before, per cell
  std::vector<std::size_t> changed;  ///< cells that differ by more than the tolerance, in order
  std::size_t largest = 0;           ///< the cell that changed most
  double largest_change = 0;         ///< its change, with its sign
  double rms = 0;                    ///< over all cells
};

/// Compares two maps cell by cell.
///
/// @param tolerance  a smaller change counts as none.
/// Source: the difference of every cell, and its root mean square.
/// Errors: `fettle::error` names the first axis, and its breakpoint, where the maps differ in shape. A cell that is NaN
///         on one side only has changed, and its change is NaN; it is left out of the largest and the mean.
[[nodiscard]] inline map_difference compare(const dynamic_table<double>& before, const dynamic_table<double>& after,
                                            double tolerance = 0) {
  if (before.rank() != after.rank())
    throw error("compare: maps of rank " + std::to_string(before.rank()) + " and " + std::to_string(after.rank()));
  for (std::size_t a = 0; a < before.rank(); ++a) {
    const auto &x = before.axes()[a].points(), &y = after.axes()[a].points();
    const auto [left, right] = std::mismatch(x.begin(), x.end(), y.begin(), y.end());
    if (left != x.end() || right != y.end())
      throw error("compare: axis " + std::to_string(a) + " differs at breakpoint " + std::to_string(left - x.begin()) +
                  ": " + (left == x.end() ? "none" : short_text(*left)) + " and " +
                  (right == y.end() ? "none" : short_text(*right)));
  }
  map_difference result{.change = after, .changed = {}};
  double squares = 0;
  std::size_t numbers = 0;
  for (std::size_t k = 0; k < before.size(); ++k) {
    const double a = before.values()[k], b = after.values()[k];
    const double change = a == b || (std::isnan(a) && std::isnan(b)) ? 0 : b - a;  // of two infinities none
    result.change.values()[k] = change;
    if (!(std::abs(change) <= tolerance)) result.changed.push_back(k);
    if (std::isnan(change)) continue;
    if (std::abs(change) > std::abs(result.largest_change)) {
      result.largest = k;
      result.largest_change = change;
    }
    squares += change * change;
    ++numbers;
  }
  result.rms = numbers == 0 ? 0 : std::sqrt(squares / static_cast<double>(numbers));
  return result;
}

/// A difference in one line, and one more for each changed cell up to a number.
[[nodiscard]] inline std::string to_text(const map_difference& difference, std::size_t most_cells = 10) {
  const auto& axes = difference.change.axes();
  if (difference.changed.empty()) return "no cell changed\n";
  std::string text = std::to_string(difference.changed.size()) + " of " + std::to_string(difference.change.size()) +
                     " cells changed; largest change " + short_text(difference.largest_change) + " at " +
                     cell_text(axes, difference.largest) + ", rms " + short_text(difference.rms) + "\n";
  for (std::size_t k = 0; k < (std::min)(most_cells, difference.changed.size()); ++k) {
    const std::size_t cell = difference.changed[k];
    text += "  " + cell_text(axes, cell) + ": " + short_text(difference.change.values()[cell]) + "\n";
  }
  if (difference.changed.size() > most_cells)
    text += "  and " + std::to_string(difference.changed.size() - most_cells) + " more\n";
  return text;
}

}  // namespace fettle

// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "fettle/error.hpp"
#include "fettle/lambda/cell_evidence.hpp"

namespace fettle {

/// How a cell did in the pass after a correction.
enum class pass_verdict : std::uint8_t {
  not_compared,  ///< not driven in both passes
  as_predicted,  ///< what is left agrees with the prediction within its 95 % interval
  better,        ///< closer to its target than predicted
  worse,         ///< further from its target than predicted
};

/// The likely reason why a cell ended further from its target than predicted.
enum class worse_reason : std::uint8_t {
  none,             ///< it did not
  all_cells_moved,  ///< the difference is common to all cells: fuel, weather or the sensor changed
  lean_end,         ///< its readings were at the sensor's lean end: at least so lean, perhaps leaner
  few_passes,       ///< the prediction rested on one or two visits
  contradiction,    ///< its readings contradicted each other
  unexplained,      ///< none of these
};

/// One cell, before and after. Logarithms of needed fuel over present fuel: above 0 the cell is lean.
struct pass_cell {
  double before = 0;          ///< what it needed in the earlier pass
  double predicted = 0;       ///< what the correction was expected to leave
  double shown = 0;           ///< what the next logs show that it still needs
  double standard_error = 0;  ///< of `shown` less `predicted`
  bool is_improved = false;   ///< closer to its target than before the correction
  pass_verdict verdict = pass_verdict::not_compared;
  worse_reason reason = worse_reason::none;
};

/// Two passes beside each other.
struct pass_comparison {
  std::vector<pass_cell> cells;
  double common_shift = 0;        ///< mean of `shown` less `predicted`, each cell in proportion to its precision
  double common_shift_error = 0;  ///< standard error of it; infinite when no cell was compared

  [[nodiscard]] std::size_t count(pass_verdict verdict) const {
    return static_cast<std::size_t>(
        std::count_if(cells.begin(), cells.end(), [&](const pass_cell& cell) { return cell.verdict == verdict; }));
  }
  [[nodiscard]] std::size_t compared() const { return cells.size() - count(pass_verdict::not_compared); }
};

namespace detail {

inline constexpr double normal_95 = 1.959964;  // two-sided 95 % quantile of the normal distribution

// Whether what is common to all cells accounts for a difference: without it the cell is within its interval.
[[nodiscard]] inline worse_reason reason_of(const pass_cell& cell, const cell_evidence& earlier, double shift) {
  const double own = cell.shown - cell.predicted - shift;
  if (std::abs(shift) > 0 && std::abs(own) <= normal_95 * cell.standard_error) return worse_reason::all_cells_moved;
  if (earlier.lean_end_share > 0.1) return worse_reason::lean_end;
  if (earlier.passes <= 2) return worse_reason::few_passes;
  if (earlier.agreement < 0.6) return worse_reason::contradiction;
  return worse_reason::unexplained;
}

}  // namespace detail

/// What the last pass predicted and what the next logs show, cell by cell.
///
/// A cell that needed m and was given a is predicted to need m - a (logarithms), with the standard error of m. The next
/// logs, driven on the corrected map, estimate what it still needs by themselves. Their difference, over the root of
/// both variances, is a standard normal variable if both errors are honest: within 1.96 in 95 % of the cells.
///
/// @param earlier  per cell, from the logs before the correction.
/// @param applied  per cell: new value over old value.
/// @param later    per cell, from logs driven on the corrected map alone.
/// Errors: `fettle::error` when the three are about different numbers of cells, or a change is not above 0.
[[nodiscard]] inline pass_comparison compare_passes(std::span<const cell_evidence> earlier,
                                                    std::span<const double> applied,
                                                    std::span<const cell_evidence> later) {
  if (earlier.size() != applied.size() || later.size() != applied.size())
    throw error("compare_passes: the earlier pass has " + std::to_string(earlier.size()) + " cells, the change " +
                std::to_string(applied.size()) + ", the later pass " + std::to_string(later.size()));
  pass_comparison result{.cells = std::vector<pass_cell>(applied.size())};
  double weight = 0, sum = 0;
  for (std::size_t k = 0; k < applied.size(); ++k) {
    if (!(applied[k] > 0)) throw error("compare_passes: the change of cell " + std::to_string(k) + " is not above 0");
    pass_cell& cell = result.cells[k];
    cell.before = std::log(earlier[k].correction);
    cell.predicted = cell.before - std::log(applied[k]);
    cell.shown = std::log(later[k].correction);
    cell.standard_error = std::hypot(earlier[k].standard_error, later[k].standard_error);
    cell.is_improved = std::abs(cell.shown) < std::abs(cell.before);
    if (!(earlier[k].passes > 0 && later[k].passes > 0)) continue;
    cell.verdict = pass_verdict::as_predicted;
    const double precision = 1 / (cell.standard_error * cell.standard_error);
    weight += precision;
    sum += precision * (cell.shown - cell.predicted);
  }
  result.common_shift = weight > 0 ? sum / weight : 0;
  result.common_shift_error = 1 / std::sqrt(weight);
  const double shift =
      std::abs(result.common_shift) > detail::normal_95 * result.common_shift_error ? result.common_shift : 0;
  for (std::size_t k = 0; k < applied.size(); ++k) {
    pass_cell& cell = result.cells[k];
    if (cell.verdict == pass_verdict::not_compared) continue;
    if (std::abs(cell.shown - cell.predicted) <= detail::normal_95 * cell.standard_error) continue;
    const bool is_worse = std::abs(cell.shown) > std::abs(cell.predicted);
    cell.verdict = is_worse ? pass_verdict::worse : pass_verdict::better;
    if (is_worse) cell.reason = detail::reason_of(cell, earlier[k], shift);
  }
  return result;
}

}  // namespace fettle

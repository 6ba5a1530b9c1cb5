// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <span>
#include <vector>

#include "fettle/io/map_file.hpp"

namespace compare_maps {

/// How far lambda would be off with a map whose truth is known, engine steady: lambda over its target, less 1.
struct map_errors {
  std::vector<double> error_pct;  ///< per cell that counts, above 0 lean
  std::vector<std::size_t> cells;

  [[nodiscard]] double rms_pct() const {
    double squares = 0;
    for (const double error : error_pct) squares += error * error;
    return std::sqrt(squares / static_cast<double>(error_pct.size()));
  }
  /// Share of the cells that are leaner than so much, in percent.
  [[nodiscard]] double lean_share_pct(double limit_pct) const {
    const auto lean = std::count_if(error_pct.begin(), error_pct.end(), [=](double x) { return x > limit_pct; });
    return 100 * static_cast<double>(lean) / static_cast<double>(error_pct.size());
  }
  [[nodiscard]] std::size_t leanest() const { return place(std::max_element(error_pct.begin(), error_pct.end())); }
  [[nodiscard]] std::size_t richest() const { return place(std::min_element(error_pct.begin(), error_pct.end())); }

 private:
  [[nodiscard]] std::size_t place(std::vector<double>::const_iterator at) const {
    return static_cast<std::size_t>(at - error_pct.begin());
  }
};

/// Compares fuel with the fuel that would have been right.
///
/// @param cells  those that count, at least one; every cell of both maps is above 0.
[[nodiscard]] inline map_errors errors_of(const fettle::map_file& map, const fettle::map_file& truth,
                                          std::span<const std::size_t> cells) {
  map_errors result{.error_pct = {}, .cells = {cells.begin(), cells.end()}};
  for (const std::size_t k : cells)
    result.error_pct.push_back(100 * (truth.table.values()[k] / map.table.values()[k] - 1));
  return result;
}

}  // namespace compare_maps

// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>
#include <cstddef>

#include "fettle/map/view.hpp"

namespace fettle {

/// Where a coordinate falls on an axis: between breakpoint `index` and the next, `fraction` of the way.
///
/// At and beyond the ends the fraction is exactly 0 or 1. A coordinate that is NaN has a NaN fraction and a valid index.
template <std::floating_point T>
struct place {
  std::size_t index = 0;  ///< 0 .. size-2
  T fraction = 0;         ///< 0 .. 1
};

/// The place of a coordinate on an axis: one search, good for every map on the same axis.
///
/// Outside: the axis holds its end.
/// Errors:  NaN gives a NaN fraction in the first cell.
/// Cost:    log2(size) comparisons without a branch.
template <std::floating_point T>
[[nodiscard]] constexpr place<T> locate(const axis_view<T>& axis, T x) noexcept {
  const T* base = axis.points;
  for (std::size_t rest = axis.size - 1; rest > 1;) {
    const std::size_t half = rest / 2;
    base += (base[half] <= x) ? half : 0;  // NaN compares false: the first cell
    rest -= half;
  }
  const T below = base[0], above = base[1];
  const std::size_t index = static_cast<std::size_t>(base - axis.points);
  if (x <= below) return {index, T{0}};
  if (x >= above) return {index, T{1}};
  return {index, (x - below) / (above - below)};
}

}  // namespace fettle

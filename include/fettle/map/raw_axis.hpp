// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>
#include <cstddef>

#include "fettle/map/detail/search.hpp"
#include "fettle/map/place.hpp"
#include "fettle/map/scalar.hpp"
#include "fettle/map/view.hpp"

namespace fettle {

/// The cell of a number on breakpoints that are stored as raw integers, as many calibrations have them.
///
/// @param x  in the unit of the breakpoints: `linear_scaling::in_raw_units` of a physical value.
/// Outside:  the axis holds its end.
/// Errors:   NaN gives a NaN fraction and a valid index. Breakpoints out of order: as on any view made by hand.
/// Rounding: breakpoints beyond 2^24 (double: 2^53) count as T can say them.
/// Cost:     log2(size) comparisons and a division.
template <raw_integer A, std::floating_point T>
[[nodiscard]] constexpr cell_point<T> search(const axis_view<A>& axis, T x) noexcept {
  const T first = static_cast<T>(axis.points[0]), last = static_cast<T>(axis.points[axis.size - 1]);
  if (!(x == x)) return {0, x};
  if (x <= first) return {0, T{0}};
  if (x >= last) return {axis.size - 1, T{0}};
  std::size_t index = detail::bisect(axis.points, 0, axis.size, x);
  if (index + 1 >= axis.size) index = axis.size - 2;
  return {index,
          detail::divided_fraction(static_cast<T>(axis.points[index]), static_cast<T>(axis.points[index + 1]), x)};
}

/// The place of a number on raw breakpoints, to keep or to use for several maps.
template <raw_integer A, std::floating_point T>
[[nodiscard]] constexpr place<T> locate(const axis_view<A>& axis, T x) noexcept {
  return detail::place_of(search(axis, x), axis.size);
}

/// The same place, found faster when it is in the cell of `last`.
template <raw_integer A, std::floating_point T>
[[nodiscard]] constexpr place<T> locate(const axis_view<A>& axis, T x, const place<T>& last) noexcept {
  const T below = static_cast<T>(axis.points[last.index]), above = static_cast<T>(axis.points[last.index + 1]);
  if (below <= x && x < above) return {last.index, detail::divided_fraction(below, above, x)};
  return locate(axis, x);
}

}  // namespace fettle

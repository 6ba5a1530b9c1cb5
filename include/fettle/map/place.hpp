// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <concepts>
#include <cstddef>

#include "fettle/map/buckets.hpp"
#include "fettle/map/detail/search.hpp"
#include "fettle/map/scalar.hpp"
#include "fettle/map/view.hpp"

namespace fettle {

/// Where a coordinate falls on an axis: between breakpoint `index` and the next, `fraction` of the way.
///
/// At and beyond the ends the fraction is exactly 0 or 1. A coordinate that is NaN has a NaN fraction and a valid
/// index.
template <std::floating_point T>
struct place {
  std::size_t index = 0;  ///< 0 .. size-2
  T fraction = 0;         ///< 0 .. 1
};

/// Where a coordinate falls on an axis, for a look-up at once: breakpoint `index` is the last at or below it.
///
/// At the last breakpoint and beyond, the index is size-1 and the fraction 0. A coordinate that is NaN has a NaN
/// fraction and a valid index. Costs less to make and to read than a `place`, which can be kept as a hint.
template <std::floating_point T>
struct cell_point {
  std::size_t index = 0;  ///< 0 .. size-1
  T fraction{};           ///< 0 <= fraction < 1
};

namespace detail {

/// A coordinate in the cell above breakpoint `index`, which has an upper neighbour.
template <class T>
struct within {
  std::size_t index = 0;
  T fraction{};
};

/// The last breakpoint at or below a coordinate held within an axis whose buckets leave one comparison.
template <std::floating_point T>
[[nodiscard]] constexpr cell_point<T> search_in(const axis_view<T>& axis, std::size_t bucket, T at) noexcept {
  const std::size_t from = axis.buckets.first_cell[bucket], index = from + (axis.points[from + 1] <= at ? 1 : 0);
  return {index, (at - axis.points[index]) * axis.buckets.inverse_width[index]};
}

/// The other axes, out of line. Without inverse widths a division, good for every sound axis however narrow or wide
/// its cells.
template <std::floating_point T>
[[nodiscard, gnu::noinline, gnu::cold]] constexpr cell_point<T> search_further(const axis_view<T>& axis, T x) noexcept {
  const T at = hold(x, axis.points[0], axis.points[axis.size - 1]);
  const std::size_t index = index_of(axis, at);
  if (index + 1 == axis.size) return {index, T{0}};
  return {index, fraction_in(axis, index, at)};
}

template <std::floating_point T>
[[nodiscard]] constexpr place<T> place_of(const cell_point<T>& x, std::size_t size) noexcept {
  if (x.index + 1 == size) return {x.index - 1, T{1}};
  return {x.index, x.fraction};
}

}  // namespace detail

/// The cell of a coordinate on an axis, for a look-up at once.
///
/// Outside: the axis holds its end.
/// Errors:  NaN gives a NaN fraction and a valid index. A view made by hand whose breakpoints are out of order, or
///          NaN, gives a valid index and a fraction from 0 to below 1: the look-up stays within the values of the map.
/// Cost:    as `locate`.
template <std::floating_point T>
[[nodiscard]] constexpr cell_point<T> search(const axis_view<T>& axis, T x) noexcept {
  if (!(x == x)) [[unlikely]]
    return {0, x};
  const auto& buckets = axis.buckets;
  if (buckets.window != 2) [[unlikely]]
    return detail::search_further(axis, x);
  const T at = detail::hold(x, buckets.first, buckets.last);
  return detail::search_in(axis, detail::bucket_of(at, buckets.first, buckets.scale), at);
}

namespace detail {

/// The rare part of a search with a hint, kept out of line: a controller has one copy of it.
template <std::floating_point T>
[[nodiscard, gnu::noinline]] constexpr cell_point<T> search_anew(const axis_view<T>& axis, T x,
                                                                 std::size_t& cell) noexcept {
  const cell_point<T> at = search(axis, x);
  cell = at.index + 1 < axis.size ? at.index : axis.size - 2;
  return at;
}

}  // namespace detail

/// The same, found faster near the last point: the caller keeps the number of its cell, one per axis.
///
/// @param cell  0 .. size-2, of any earlier point; left at this point's.
/// Cost:        two comparisons and one multiplication in the same cell, else a search.
template <std::floating_point T>
[[nodiscard]] constexpr cell_point<T> search(const axis_view<T>& axis, T x, std::size_t& cell) noexcept {
  if (!detail::in_cell(axis, cell, x)) return detail::search_anew(axis, x, cell);
  return {cell, detail::fraction_in(axis, cell, x)};
}

/// The place of a coordinate on an axis: one search, good for every map on the same axis.
///
/// Outside: the axis holds its end.
/// Errors:  NaN gives a NaN fraction in a valid cell.
/// Cost:    two multiplications and, on all but very uneven axes, one comparison; no branch depends on x. A view made
///          by hand, and an axis whose cells are too narrow or wide for a reciprocal, is bisected: log2(size)
///          comparisons and a division.
template <std::floating_point T>
[[nodiscard]] constexpr place<T> locate(const axis_view<T>& axis, T x) noexcept {
  return detail::place_of(search(axis, x), axis.size);
}

/// The same place, found faster when it is in the cell of `last`: the caller keeps it, the map has no hidden state.
///
/// @param last  any place on this axis; its cell is tried first.
/// Cost:        two comparisons and one multiplication in the same cell (on a view made by hand one division).
template <std::floating_point T>
[[nodiscard]] constexpr place<T> locate(const axis_view<T>& axis, T x, const place<T>& last) noexcept {
  if (detail::in_cell(axis, last.index, x)) return {last.index, detail::fraction_in(axis, last.index, x)};
  return locate(axis, x);
}

/// The places of a point, one per axis of the map.
template <std::size_t R, std::floating_point T, class V, class... X>
requires one_coordinate_per_axis<R, T, X...>
[[nodiscard]] constexpr std::array<place<T>, R> locate(const map_view<R, T, V>& map, X... x) noexcept {
  std::size_t i = 0;
  std::array<place<T>, R> result{};
  ((result[i] = locate(map.axes[i], static_cast<T>(x)), ++i), ...);
  return result;
}

/// The places of a point near the last one.
template <std::size_t R, std::floating_point T, class V, class... X>
requires one_coordinate_per_axis<R, T, X...>
[[nodiscard]] constexpr std::array<place<T>, R> locate(const map_view<R, T, V>& map,
                                                       const std::array<place<T>, R>& last, X... x) noexcept {
  std::size_t i = 0;
  std::array<place<T>, R> result{};
  ((result[i] = locate(map.axes[i], static_cast<T>(x), last[i]), ++i), ...);
  return result;
}

}  // namespace fettle

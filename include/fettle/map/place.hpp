// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <concepts>
#include <cstddef>
#include <limits>

#include "fettle/map/buckets.hpp"
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

namespace detail {

/// A coordinate on an axis, held within it: breakpoint `index` is the last at or below it. At the last breakpoint the
/// index is size-1 and the fraction 0.
template <class T>
struct found {
  std::size_t index = 0;
  T fraction{};
};

/// A coordinate in the cell above breakpoint `index`.
template <class T>
struct within {
  std::size_t index = 0;
  T fraction{};
};

/// The nearer end for a coordinate outside the axis. NaN passes.
template <coordinate T>
[[nodiscard]] constexpr T hold(T x, T first, T last) noexcept {
  x = x < first ? first : x;
  return last < x ? last : x;
}

/// The last of `count` breakpoints from `index` on that is at or below a coordinate, without a branch on it.
template <coordinate T>
[[nodiscard]] constexpr std::size_t bisect(const T* points, std::size_t index, std::size_t count, T at) noexcept {
  while (count > 2) {
    const std::size_t half = count / 2;
    index += points[index + half] <= at ? half : 0;
    count -= half;
  }
  return index + (points[index + 1] <= at ? 1 : 0);
}

/// The last breakpoint at or below a coordinate that is held within the axis and not NaN.
template <coordinate T>
[[nodiscard]] constexpr std::size_t index_of(const axis_view<T>& axis, T at) noexcept {
  const auto& buckets = axis.buckets;
  if (buckets.first_cell == nullptr) return bisect(axis.points, 0, axis.size, at);
  return bisect(axis.points, buckets.first_cell[bucket_of(at, buckets.first, buckets.scale)], buckets.window, at);
}

/// How far a coordinate is into the cell above this breakpoint of an axis with buckets.
template <std::floating_point T>
[[nodiscard]] constexpr T fraction_in(const axis_view<T>& axis, std::size_t index, T x) noexcept {
  return (x - axis.points[index]) * axis.buckets.inverse_width[index];
}

/// The last breakpoint at or below a coordinate held within an axis whose buckets leave one comparison.
template <std::floating_point T>
[[nodiscard]] constexpr found<T> search_in(const axis_view<T>& axis, std::size_t bucket, T at) noexcept {
  const std::size_t from = axis.buckets.first_cell[bucket], index = from + (axis.points[from + 1] <= at ? 1 : 0);
  return {index, fraction_in(axis, index, at)};
}

/// The other axes, out of line. Without buckets a division, good for every sound axis however narrow or wide its cells.
template <std::floating_point T>
[[nodiscard, gnu::noinline, gnu::cold]] constexpr found<T> search_further(const axis_view<T>& axis, T x) noexcept {
  constexpr T most = T{1} - std::numeric_limits<T>::epsilon() / T{2};  // below 1 before the upper breakpoint
  const T at = hold(x, axis.points[0], axis.points[axis.size - 1]);
  const std::size_t index = index_of(axis, at);
  if (axis.buckets.first_cell != nullptr) return {index, fraction_in(axis, index, at)};
  if (index + 1 == axis.size) return {index, T{0}};
  const T t = (at - axis.points[index]) / (axis.points[index + 1] - axis.points[index]);
  return {index, most < t ? most : t};
}

template <std::floating_point T>
[[nodiscard]] constexpr found<T> search(const axis_view<T>& axis, T x) noexcept {
  if (!(x == x)) [[unlikely]]
    return {0, x};
  const auto& buckets = axis.buckets;
  if (buckets.window != 2) [[unlikely]]
    return search_further(axis, x);
  const T at = hold(x, buckets.first, buckets.last);
  return search_in(axis, bucket_of(at, buckets.first, buckets.scale), at);
}

/// Whether a coordinate is in the cell above this breakpoint of an axis with buckets. NaN: no.
template <std::floating_point T>
[[nodiscard]] constexpr bool in_cell(const axis_view<T>& axis, std::size_t index, T x) noexcept {
  return axis.points[index] <= x && x < axis.points[index + 1] && axis.buckets.inverse_width != nullptr;
}

template <std::floating_point T>
[[nodiscard]] constexpr place<T> place_of(const found<T>& x, std::size_t size) noexcept {
  if (x.index + 1 == size) return {x.index - 1, T{1}};
  return {x.index, x.fraction};
}

}  // namespace detail

/// The place of a coordinate on an axis: one search, good for every map on the same axis.
///
/// Outside: the axis holds its end.
/// Errors:  NaN gives a NaN fraction in a valid cell.
/// Cost:    two multiplications and, on all but very uneven axes, one comparison; no branch depends on x. A view made
///          by hand, and an axis whose cells are too narrow or wide for a reciprocal, is bisected: log2(size)
///          comparisons and a division.
template <std::floating_point T>
[[nodiscard]] constexpr place<T> locate(const axis_view<T>& axis, T x) noexcept {
  return detail::place_of(detail::search(axis, x), axis.size);
}

/// The same place, found faster when it is in the cell of `last`: the caller keeps it, the map has no hidden state.
///
/// @param last  any place on this axis; its cell is tried first.
/// Cost:        two comparisons and one multiplication in the same cell.
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

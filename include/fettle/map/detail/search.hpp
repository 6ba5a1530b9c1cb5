// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>
#include <cstddef>
#include <limits>

#include "fettle/map/buckets.hpp"
#include "fettle/map/scalar.hpp"
#include "fettle/map/view.hpp"

namespace fettle::detail {

/// The nearer end for a coordinate outside the axis. NaN passes.
template <coordinate T>
[[nodiscard]] constexpr T hold(T x, T first, T last) noexcept {
  x = x < first ? first : x;
  return last < x ? last : x;
}

/// The last of `count` breakpoints from `index` on that is at or below a coordinate, without a branch on it. Whatever
/// the breakpoints hold, the result is one of these.
template <coordinate T, class X>
[[nodiscard]] constexpr std::size_t bisect(const T* points, std::size_t index, std::size_t count, X at) noexcept {
  while (count > 2) {
    const std::size_t half = count / 2;
    index += static_cast<X>(points[index + half]) <= at ? half : 0;
    count -= half;
  }
  return index + (static_cast<X>(points[index + 1]) <= at ? 1 : 0);
}

/// The last breakpoint at or below a coordinate that is held within the axis and not NaN.
template <coordinate T>
[[nodiscard]] constexpr std::size_t index_of(const axis_view<T>& axis, T at) noexcept {
  const auto& buckets = axis.buckets;
  if (buckets.first_cell == nullptr) return bisect(axis.points, 0, axis.size, at);
  return bisect(axis.points, buckets.first_cell[bucket_of(at, buckets.first, buckets.scale)], buckets.window, at);
}

/// How far a coordinate is from one breakpoint to the next, by division: below 1 before the upper one however it
/// rounds, and from 0 to below 1 even where breakpoints are out of order, for an axis may be edited while it is read.
template <std::floating_point T>
[[nodiscard]] constexpr T divided_fraction(T below, T above, T x) noexcept {
  constexpr T most = T{1} - std::numeric_limits<T>::epsilon() / T{2};
  const T t = (x - below) / (above - below);
  if (!(t > T{0})) return T{0};
  return most < t ? most : t;
}

/// How far a coordinate is into the cell above this breakpoint.
template <std::floating_point T>
[[nodiscard]] constexpr T fraction_in(const axis_view<T>& axis, std::size_t index, T x) noexcept {
  if (axis.buckets.inverse_width == nullptr) [[unlikely]]
    return divided_fraction(axis.points[index], axis.points[index + 1], x);
  return (x - axis.points[index]) * axis.buckets.inverse_width[index];
}

/// Whether a coordinate is in the cell above this breakpoint. NaN: no.
template <std::floating_point T>
[[nodiscard]] constexpr bool in_cell(const axis_view<T>& axis, std::size_t index, T x) noexcept {
  return axis.points[index] <= x && x < axis.points[index + 1];
}

}  // namespace fettle::detail

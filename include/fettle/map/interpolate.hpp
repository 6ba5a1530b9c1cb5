// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <concepts>
#include <cstddef>

#include "fettle/map/place.hpp"
#include "fettle/map/table.hpp"
#include "fettle/map/view.hpp"

namespace fettle {
namespace detail {

/// a at t = 0 and b at t = 1, exactly, and never reads the end whose weight is zero.
template <class T, class A, class B>
[[nodiscard]] constexpr auto blend(T t, A&& at_zero, B&& at_one) noexcept -> decltype(at_zero()) {
  if (t == T{0}) return at_zero();
  if (t == T{1}) return at_one();
  const auto a = at_zero(), b = at_one();
  const auto value = a + t * (b - a);
  // Rounding may step past b; the guarantee "between its corners" may not.
  return (a <= b) ? (value > b ? b : value) : (value < b ? b : value);
}

template <std::size_t Axis, std::size_t R, class T, class V>
[[nodiscard]] constexpr V multilinear(const map_view<R, T, V>& map, const std::array<place<T>, R>& at,
                                      std::size_t cell) noexcept {
  if constexpr (Axis == R) {
    return map.values[cell];
  } else {
    const std::size_t low = cell * map.axes[Axis].size + at[Axis].index;
    return blend(
        at[Axis].fraction, [&] { return multilinear<Axis + 1>(map, at, low); },
        [&] { return multilinear<Axis + 1>(map, at, low + 1); });
  }
}

}  // namespace detail

/// Multilinear value of a map at places found before: one search may feed many maps on the same axes.
template <std::size_t R, std::floating_point T, class V>
[[nodiscard]] constexpr V interpolate(const map_view<R, T, V>& map, const std::array<place<T>, R>& at) noexcept {
  return detail::multilinear<0>(map, at, 0);
}

/// Multilinear value of a map at one point: exact at the breakpoints, linear along each axis between them.
///
/// @param map  rank R, finite values.
/// @param x    R coordinates in axis order, each in the unit of its axis.
/// @return     in the unit of the map, within the range of the 2^R values around the point.
/// Outside:    each axis holds its end.
/// Errors:     NaN in gives NaN out. Another number of coordinates does not compile.
/// Cost:       R searches, 2^R - 1 multiplications, no heap.
/// Source:     A. Weiser, S. E. Zarantonello, "A note on piecewise linear and multilinear table interpolation
///             in many dimensions", Math. Comp. 50 (1988) 189-196, doi:10.1090/S0025-5718-1988-0917826-0.
template <std::size_t R, std::floating_point T, class V, std::convertible_to<T>... X>
  requires(sizeof...(X) == R)
[[nodiscard]] constexpr V interpolate(const map_view<R, T, V>& map, X... x) noexcept {
  const std::array<T, R> point{static_cast<T>(x)...};
  std::array<place<T>, R> at{};
  for (std::size_t i = 0; i < R; ++i) at[i] = locate(map.axes[i], point[i]);
  return interpolate(map, at);
}

template <std::floating_point T, std::size_t... N, std::convertible_to<T>... X>
  requires(sizeof...(X) == sizeof...(N))
[[nodiscard]] constexpr T interpolate(const table<T, N...>& map, X... x) noexcept {
  return interpolate(map.view(), x...);
}

}  // namespace fettle

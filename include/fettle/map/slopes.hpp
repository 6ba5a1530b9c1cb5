// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <concepts>
#include <cstddef>

#include "fettle/map/interpolate.hpp"
#include "fettle/map/place.hpp"
#include "fettle/map/scalar.hpp"
#include "fettle/map/view.hpp"

namespace fettle {

/// A value and how fast it changes along each axis.
template <std::size_t R, class V>
struct value_and_slopes {
  V value{};
  std::array<V, R> slope{};  ///< unit of the map per unit of the axis
};

namespace detail {

/// a + t (b - a), where one of no weight does not count, whatever it holds.
template <class V, class T>
[[nodiscard]] constexpr V between(const V& a, const V& b, const T& t) noexcept {
  if (t == T{0}) return a;
  return t == T{1} ? b : along(a, b, t);
}

template <class V, class T>
[[nodiscard]] constexpr V divided(const V& difference, const T& width) noexcept {
  if constexpr (std::floating_point<V>) {
    return difference / static_cast<V>(width);
  } else {
    return static_cast<V>((T{1} / width) * difference);
  }
}

template <std::size_t Axis, std::size_t R, class T, class V>
[[nodiscard]] constexpr value_and_slopes<R, V> slopes(const map_view<R, T, V>& map, const std::array<place<T>, R>& at,
                                                      std::size_t cell) noexcept {
  if constexpr (Axis == R) {
    value_and_slopes<R, V> result{map.values[cell], {}};
    for (V& slope : result.slope) slope = result.value;  // replaced on the way up; some value types start undefined
    return result;
  } else {
    const auto [index, t] = at[Axis];
    const std::size_t below = cell * map.axes[Axis].size + index;
    const auto low = slopes<Axis + 1>(map, at, below), high = slopes<Axis + 1>(map, at, below + 1);
    const T width = map.axes[Axis].points[index + 1] - map.axes[Axis].points[index];
    value_and_slopes<R, V> result = low;
    result.value = between(low.value, high.value, t);
    result.slope[Axis] = divided<V>(high.value - low.value, width);
    for (std::size_t i = Axis + 1; i < R; ++i) result.slope[i] = between(low.slope[i], high.slope[i], t);
    return result;
  }
}

}  // namespace detail

/// Value and slopes at places found before, all in one pass over the corners.
///
/// The slope along an axis is that of the place's cell: on a breakpoint, where the map has a kink, the cell above it
/// (at the last breakpoint the cell below). Both neighbours along that axis count for it, even one of no weight.
template <std::size_t R, std::floating_point T, affine_over<T> V>
[[nodiscard]] constexpr value_and_slopes<R, V> interpolate_with_slopes(const map_view<R, T, V>& map,
                                                                       const std::array<place<T>, R>& at) noexcept {
  return detail::slopes<0>(map, at, 0);
}

/// Value and slopes at a point.
///
/// Outside: the axis holds its end, so the slope along it is 0.
/// Errors:  NaN in gives a NaN value.
template <std::size_t R, std::floating_point T, affine_over<T> V, class... X>
requires one_coordinate_per_axis<R, T, X...>
[[nodiscard]] constexpr value_and_slopes<R, V> interpolate_with_slopes(const map_view<R, T, V>& map, X... x) noexcept {
  auto result = interpolate_with_slopes(map, locate(map, x...));
  const std::array<T, R> point{static_cast<T>(x)...};
  for (std::size_t i = 0; i < R; ++i) {
    const auto& axis = map.axes[i];
    if (point[i] < axis.points[0] || axis.points[axis.size - 1] < point[i])
      result.slope[i] = static_cast<V>(result.value - result.value);
  }
  return result;
}

}  // namespace fettle

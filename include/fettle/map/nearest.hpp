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
namespace detail {

/// Each place moved to a breakpoint: up from this fraction on, else down. NaN stays NaN.
template <std::size_t R, std::floating_point T>
[[nodiscard]] constexpr std::array<place<T>, R> snapped(std::array<place<T>, R> at, T up_from) noexcept {
  for (auto& x : at)
    if (x.fraction == x.fraction) x.fraction = x.fraction >= up_from ? T{1} : T{0};
  return at;
}

}  // namespace detail

/// The cell nearest to a point, without interpolation; half way counts as up.
///
/// Outside: each axis holds its end.
/// Errors:  NaN in gives NaN out.
template <std::size_t R, std::floating_point T, affine_over<T> V>
[[nodiscard]] constexpr V nearest(const map_view<R, T, V>& map, const std::array<place<T>, R>& at) noexcept {
  return interpolate(map, detail::snapped(at, T{0.5}));
}

template <std::size_t R, std::floating_point T, affine_over<T> V, class... X>
requires one_coordinate_per_axis<R, T, X...>
[[nodiscard]] constexpr V nearest(const map_view<R, T, V>& map, X... x) noexcept {
  return nearest(map, locate(map, x...));
}

/// The cell at or below a point on every axis, without interpolation: a staircase.
///
/// Outside: each axis holds its end.
/// Errors:  NaN in gives NaN out.
template <std::size_t R, std::floating_point T, affine_over<T> V>
[[nodiscard]] constexpr V at_or_below(const map_view<R, T, V>& map, const std::array<place<T>, R>& at) noexcept {
  return interpolate(map, detail::snapped(at, T{1}));
}

template <std::size_t R, std::floating_point T, affine_over<T> V, class... X>
requires one_coordinate_per_axis<R, T, X...>
[[nodiscard]] constexpr V at_or_below(const map_view<R, T, V>& map, X... x) noexcept {
  return at_or_below(map, locate(map, x...));
}

}  // namespace fettle

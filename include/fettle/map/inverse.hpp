// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <concepts>
#include <cstddef>

#include "fettle/map/interpolate.hpp"
#include "fettle/map/place.hpp"
#include "fettle/map/view.hpp"

namespace fettle {

/// All coordinates along one axis at which a map has a wanted value, in ascending order.
///
/// @param map     rank R.
/// @param along   the axis to solve for.
/// @param at      one place per axis; the one on axis `along` is not used.
/// @param wanted  in the unit of the map.
/// @param visit   called as visit(from, to): from == to for a crossing, from < to where the map stays on the value.
/// @return        how many solutions were visited; 0 is an answer. A breakpoint on the value counts once.
/// Outside:       nothing is looked for beyond the ends.
/// Errors:        NaN, wanted or in the map, solves nothing.
/// Cost:          one look-up per breakpoint of the axis, no heap.
template <std::size_t R, std::floating_point T, std::invocable<T, T> Visit>
constexpr std::size_t solve(const map_view<R, T>& map, std::size_t along, std::array<place<T>, R> at, T wanted,
                            Visit&& visit) noexcept {
  const auto& axis = map.axes[along];
  const auto node = [&](std::size_t i) {
    at[along] = i + 1 < axis.size ? place<T>{i, T{0}} : place<T>{i - 1, T{1}};
    return interpolate(map, at);
  };
  std::size_t solutions = 0, flat_from = 0;
  T below = node(0);
  for (std::size_t i = 0; i < axis.size; ++i) {
    const bool last = i + 1 == axis.size;
    const T above = last ? below : node(i + 1);
    if (below == wanted) {
      if (!last && above == wanted) {  // stays on the value: wait for the end of the flat
        below = above;
        continue;
      }
      visit(axis.points[flat_from], axis.points[i]);
      ++solutions;
    } else if ((below < wanted && wanted < above) || (above < wanted && wanted < below)) {
      const T t = (wanted - below) / (above - below), low = axis.points[i], high = axis.points[i + 1];
      const T x = detail::hold(low + t * (high - low), low, high);  // rounding must not carry it out of its cell
      visit(x, x);
      ++solutions;
    }
    flat_from = i + 1;
    below = above;
  }
  return solutions;
}

/// All coordinates at which a curve has a wanted value.
template <std::floating_point T, std::invocable<T, T> Visit>
constexpr std::size_t solve(const map_view<1, T>& curve, T wanted, Visit&& visit) noexcept {
  return solve(curve, 0, {}, wanted, visit);
}

}  // namespace fettle

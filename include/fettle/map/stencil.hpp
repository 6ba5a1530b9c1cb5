// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <concepts>
#include <cstddef>

#include "fettle/map/place.hpp"

namespace fettle {

/// The cells that a look-up reads and the weight of each: a map is linear in its cells.
///
/// Shape: 2^R entries; the weights are non-negative and sum to 1 (to rounding). NaN coordinates give NaN weights.
template <std::size_t R, std::floating_point T>
struct stencil {
  static constexpr std::size_t size = std::size_t{1} << R;
  std::array<std::size_t, size> cell{};
  std::array<T, size> weight{};
};

/// The stencil of a look-up at one place per axis.
///
/// @param axes    the map's axes; only their sizes are used.
/// @param places  one per axis, from `locate`.
template <std::size_t R, std::floating_point T>
[[nodiscard]] constexpr stencil<R, T> stencil_at(const std::array<axis_view<T>, R>& axes,
                                                 const std::array<place<T>, R>& places) noexcept {
  stencil<R, T> result{};
  if constexpr (R == 2) {  // written out: the usual map, and a controller learns in every cycle
    const auto [row, x] = places[0];
    const auto [column, y] = places[1];
    const std::size_t cell = row * axes[1].size + column, next = cell + axes[1].size;
    result.cell = {cell, cell + 1, next, next + 1};
    result.weight = {(T{1} - x) * (T{1} - y), (T{1} - x) * y, x * (T{1} - y), x * y};
    return result;
  }
  result.weight[0] = T{1};
  for (std::size_t axis = 0, filled = 1; axis < R; ++axis, filled *= 2) {
    const auto [index, fraction] = places[axis];
    for (std::size_t k = filled; k-- > 0;) {  // downwards: entry k spreads to 2k and 2k+1
      const std::size_t cell = result.cell[k] * axes[axis].size + index;
      const T weight = result.weight[k];
      result.cell[2 * k] = cell;
      result.cell[2 * k + 1] = cell + 1;
      result.weight[2 * k] = weight * (T{1} - fraction);
      result.weight[2 * k + 1] = weight * fraction;
    }
  }
  return result;
}

}  // namespace fettle

// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cstddef>

#include "fettle/map/view.hpp"

namespace fettle {

/// The breakpoint number of a cell on each axis: the inverse of row-major numbering, the last axis fastest.
///
/// @param sizes  breakpoints per axis.
/// @param cell   below their product.
template <std::size_t R>
[[nodiscard]] constexpr std::array<std::size_t, R> cell_indices(const std::array<std::size_t, R>& sizes,
                                                                std::size_t cell) noexcept {
  std::array<std::size_t, R> indices{};
  for (std::size_t axis = R; axis-- > 0; cell /= sizes[axis]) indices[axis] = cell % sizes[axis];
  return indices;
}

/// The coordinates at which a cell stands, one per axis, each in the unit of its axis.
template <std::size_t R, class T, class V>
[[nodiscard]] constexpr std::array<T, R> cell_coordinates(const map_view<R, T, V>& map, std::size_t cell) noexcept {
  std::array<T, R> coordinates{};
  for (std::size_t axis = R; axis-- > 0; cell /= map.axes[axis].size)
    coordinates[axis] = map.axes[axis].points[cell % map.axes[axis].size];
  return coordinates;
}

}  // namespace fettle

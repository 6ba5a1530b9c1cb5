// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <concepts>
#include <cstddef>
#include <span>
#include <type_traits>
#include <vector>

#include "fettle/map/dynamic_table.hpp"
#include "fettle/map/place.hpp"

namespace fettle {

/// The cells that a look-up reads and the weight of each, for a rank known only at run time.
///
/// Shape: the first `size` = 2^rank entries count; their weights are non-negative and sum to 1 (to rounding).
template <std::floating_point T>
struct dynamic_stencil {
  std::size_t size = 1;
  std::array<std::size_t, 8> cell{};
  std::array<T, 8> weight{T{1}};
};

/// The stencil of a point in a map of rank 0 (one cell of weight 1) to 3: the same cells and weights as `stencil_at` of
/// that rank.
///
/// @param axes  at most 3.
/// @param x     one coordinate per axis; more are not read.
/// Outside:     each axis holds its end.
/// Errors:      NaN coordinates give NaN weights of valid cells.
/// Cost:        one search per axis, no heap.
template <std::floating_point T>
[[nodiscard]] dynamic_stencil<T> stencil_at(const std::vector<dynamic_axis<T>>& axes,
                                            std::type_identity_t<std::span<const T>> x) noexcept {
  dynamic_stencil<T> result;
  for (std::size_t axis = 0; axis < axes.size(); ++axis, result.size *= 2) {
    const auto [index, fraction] = locate(axes[axis].view(), x[axis]);
    for (std::size_t k = result.size; k-- > 0;) {  // downwards: entry k spreads to 2k and 2k+1
      const std::size_t cell = result.cell[k] * axes[axis].size() + index;
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

// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <concepts>
#include <cstddef>
#include <utility>

#include "fettle/map/detail/multilinear.hpp"
#include "fettle/map/place.hpp"
#include "fettle/map/scalar.hpp"
#include "fettle/map/view.hpp"

namespace fettle {

/// Cells owned by somebody else, behind a plain pointer and in any order: read in place, in flash or while edited.
///
/// Axes are not part of it: any axis finds the places, also axes of another type than the cells and than each other.
template <std::size_t R, class V>
struct strided_cells {
  const V* values = nullptr;             ///< the cell at the first breakpoint of every axis
  std::array<std::ptrdiff_t, R> step{};  ///< cells from one breakpoint to the next, per axis; may be negative
};

/// Cells whose last axis runs fastest.
///
/// @param sizes  breakpoints per axis.
template <std::size_t R, class V>
[[nodiscard]] constexpr strided_cells<R, V> row_major(const V* values,
                                                      const std::array<std::size_t, R>& sizes) noexcept {
  strided_cells<R, V> cells{values, {}};
  for (std::size_t axis = R, step = 1; axis-- > 0; step *= sizes[axis])
    cells.step[axis] = static_cast<std::ptrdiff_t>(step);
  return cells;
}

/// Cells whose first axis runs fastest.
template <std::size_t R, class V>
[[nodiscard]] constexpr strided_cells<R, V> column_major(const V* values,
                                                         const std::array<std::size_t, R>& sizes) noexcept {
  strided_cells<R, V> cells{values, {}};
  for (std::size_t axis = 0, step = 1; axis < R; step *= sizes[axis], ++axis)
    cells.step[axis] = static_cast<std::ptrdiff_t>(step);
  return cells;
}

/// The cells of a map, without its axes.
template <std::size_t R, class T, class V>
[[nodiscard]] constexpr strided_cells<R, V> cells_of(const map_view<R, T, V>& map) noexcept {
  std::array<std::size_t, R> sizes{};
  for (std::size_t axis = 0; axis < R; ++axis) sizes[axis] = map.axes[axis].size;
  return row_major(map.values, sizes);
}

/// A point in cells of one layout: worked out once, it reads any number of maps of that layout.
template <std::size_t R, std::floating_point T>
class map_point {
 public:
  /// @param step  as in `strided_cells`.
  /// @param at    one `place` or `cell_point` per axis, from whatever axes.
  template <class At>
  constexpr map_point(const std::array<std::ptrdiff_t, R>& step, const std::array<At, R>& at) noexcept {
    for (std::size_t axis = 0; axis < R; ++axis) near_[axis] = detail::neighbours_at(at[axis], step[axis]);
  }

  /// @param values  the cell at the first breakpoint of every axis.
  template <cell_over<T> V>
  [[nodiscard]] constexpr interpolated_t<V, T> read(const V* values) const noexcept {
    return [&]<std::size_t... A>(std::index_sequence<A...>) {
      return detail::multilinear(values, near_[A]...);
    }
    (std::make_index_sequence<R>{});
  }

 private:
  std::array<detail::neighbours<T, true>, R> near_{};
};

/// Multilinear value of cells at one `place` or `cell_point` per axis, from whatever axes.
///
/// Errors: NaN in gives NaN out. A corner of no weight is not read.
/// Cost:   2^R - 1 multiplications; raw integers are converted as they are read, so that 8-bit cells of a coarse scale
///         give a smooth output.
template <std::size_t R, std::floating_point T, cell_over<T> V>
[[nodiscard]] constexpr interpolated_t<V, T> interpolate(const strided_cells<R, V>& cells,
                                                         const std::array<place<T>, R>& at) noexcept {
  return map_point<R, T>{cells.step, at}.read(cells.values);
}
template <std::size_t R, std::floating_point T, cell_over<T> V>
[[nodiscard]] constexpr interpolated_t<V, T> interpolate(const strided_cells<R, V>& cells,
                                                         const std::array<cell_point<T>, R>& at) noexcept {
  return map_point<R, T>{cells.step, at}.read(cells.values);
}

}  // namespace fettle

// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <concepts>
#include <cstddef>
#include <utility>

#include "fettle/map/axis.hpp"
#include "fettle/map/place.hpp"
#include "fettle/map/scalar.hpp"
#include "fettle/map/strided_cells.hpp"
#include "fettle/map/view.hpp"

namespace fettle {

/// A map without axes: one value per crossing of axes that live elsewhere and are shared (COM_AXIS) or computed
/// (FIX_AXIS). Row-major, the last axis runs fastest.
///
/// Values may be anything with a straight line between them: numbers, fixed-size vectors (one value per cylinder), ...
///
/// Shape:  rank 1 to 3.
/// Errors: another number of values than crossings does not compile.
template <class V, std::size_t... N>
class cells {
  static_assert(sizeof...(N) >= 1 && sizeof...(N) <= 3, "fettle::cells has rank 1, 2 or 3");

 public:
  static constexpr std::size_t rank = sizeof...(N);
  static constexpr std::size_t size = (N * ...);
  static constexpr std::array<std::size_t, rank> sizes{N...};

  template <class U, std::size_t M>
  requires std::convertible_to<U, V>
  constexpr explicit cells(const U (&values)[M]) noexcept {
    static_assert(M == size, "fettle::cells needs one value per crossing of its axes");
    for (std::size_t i = 0; i < size && i < M; ++i) values_[i] = static_cast<V>(values[i]);
  }
  constexpr explicit cells(const std::array<V, size>& values) noexcept : values_{values} {}

  [[nodiscard]] constexpr const std::array<V, size>& values() const noexcept { return values_; }
  [[nodiscard]] constexpr std::array<V, size>& values() noexcept { return values_; }

  /// These cells over stored axes of the right sizes. The view lives no longer than the cells and the axes.
  template <std::floating_point T>
  [[nodiscard]] constexpr map_view<rank, T, V> over(const axis<T, N>&... axes) const noexcept {
    return {.axes = {axes.view()...}, .values = values_.data()};
  }

 private:
  std::array<V, size> values_{};
};

namespace detail {

/// The neighbours are worked out once, and serve every map.
template <class T, std::size_t R, std::size_t... A, class... V>
[[nodiscard]] constexpr auto multilinear_all(const std::array<neighbours<T, true>, R>& at, std::index_sequence<A...>,
                                             const V*... values) noexcept {
  return std::array{multilinear(values, at[A]...)...};
}

template <template <class> class At, class T, class V, std::size_t... N, class... More>
[[nodiscard]] constexpr auto cells_each(const std::array<At<T>, sizeof...(N)>& at, const cells<V, N...>& first,
                                        const More&... more) noexcept {
  constexpr std::size_t rank = sizeof...(N);
  constexpr auto step = row_major<rank, V>(nullptr, {N...}).step;
  std::array<neighbours<T, true>, rank> near{};
  for (std::size_t axis = 0; axis < rank; ++axis) near[axis] = neighbours_at(at[axis], step[axis]);
  return multilinear_all(near, std::make_index_sequence<rank>{}, first.values().data(), more.values().data()...);
}

}  // namespace detail

/// Multilinear value of cells at one `place` or `cell_point` per axis.
template <class V, std::size_t... N, std::floating_point T>
requires cell_over<V, T>
[[nodiscard]] constexpr interpolated_t<V, T> interpolate(const cells<V, N...>& map,
                                                         const std::array<place<T>, sizeof...(N)>& at) noexcept {
  return detail::cells_each(at, map)[0];
}
template <class V, std::size_t... N, std::floating_point T>
requires cell_over<V, T>
[[nodiscard]] constexpr interpolated_t<V, T> interpolate(const cells<V, N...>& map,
                                                         const std::array<cell_point<T>, sizeof...(N)>& at) noexcept {
  return detail::cells_each(at, map)[0];
}

/// Values of several maps on the same axes, in the order given: one search, and one reckoning of the cells.
///
/// @param at  one `place` or `cell_point` per axis.
template <std::floating_point T, template <class> class At, class V, std::size_t... N,
          std::same_as<cells<V, N...>>... More>
requires cell_over<V, T>
[[nodiscard]] constexpr std::array<interpolated_t<V, T>, 1 + sizeof...(More)> interpolate_each(
    const std::array<At<T>, sizeof...(N)>& at, const cells<V, N...>& first, const More&... more) noexcept {
  return detail::cells_each(at, first, more...);
}

}  // namespace fettle

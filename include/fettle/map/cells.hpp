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

template <template <class> class At, class T, class V, std::size_t... N>
[[nodiscard]] constexpr map_point<sizeof...(N), T> point_in(const cells<V, N...>&,
                                                            const std::array<At<T>, sizeof...(N)>& at) noexcept {
  return {row_major<sizeof...(N), V>(nullptr, {N...}).step, at};
}

}  // namespace detail

/// Multilinear value of cells at one `place` or `cell_point` per axis.
template <class V, std::size_t... N, std::floating_point T>
requires cell_over<V, T>
[[nodiscard]] constexpr interpolated_t<V, T> interpolate(const cells<V, N...>& map,
                                                         const std::array<place<T>, sizeof...(N)>& at) noexcept {
  return detail::point_in(map, at).read(map.values().data());
}
template <class V, std::size_t... N, std::floating_point T>
requires cell_over<V, T>
[[nodiscard]] constexpr interpolated_t<V, T> interpolate(const cells<V, N...>& map,
                                                         const std::array<cell_point<T>, sizeof...(N)>& at) noexcept {
  return detail::point_in(map, at).read(map.values().data());
}

/// Values of several maps on the same axes, in the order given: one search, and one reckoning of the cells.
///
/// @param at  one `place` or `cell_point` per axis.
template <std::floating_point T, template <class> class At, class V, std::size_t... N,
          std::same_as<cells<V, N...>>... More>
requires cell_over<V, T>
[[nodiscard]] constexpr std::array<interpolated_t<V, T>, 1 + sizeof...(More)> interpolate_each(
    const std::array<At<T>, sizeof...(N)>& at, const cells<V, N...>& first, const More&... more) noexcept {
  const auto point = detail::point_in(first, at);
  return {point.read(first.values().data()), point.read(more.values().data())...};
}

}  // namespace fettle

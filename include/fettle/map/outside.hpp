// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <concepts>
#include <cstddef>
#include <cstdint>
#include <limits>

#include "fettle/map/interpolate.hpp"
#include "fettle/map/place.hpp"
#include "fettle/map/scalar.hpp"
#include "fettle/map/view.hpp"

namespace fettle {

/// What a look-up does beyond one end of an axis.
enum class outside : std::uint8_t {
  hold,    ///< the value at the end
  extend,  ///< the straight line of the end cell; an infinite coordinate holds the end
  refuse   ///< NaN
};

/// What to do beyond each end of one axis.
struct edges {
  outside below = outside::hold;
  outside above = outside::hold;
};

/// Where a coordinate lay on its axis.
enum class position : std::uint8_t { inside, below, above, not_a_number };

/// A place and where its coordinate lay.
template <std::floating_point T>
struct located {
  place<T> at;
  position where = position::inside;
};

/// The place of a coordinate under a rule of its own for each side; `interpolate` takes the place as it is.
template <std::floating_point T>
[[nodiscard]] constexpr located<T> locate(const axis_view<T>& axis, T x, edges rule) noexcept {
  const T first = axis.points[0], last = axis.points[axis.size - 1];
  if (x >= first && x <= last) return {locate(axis, x), position::inside};
  if (!(x == x)) return {{0, x}, position::not_a_number};
  const bool below = x < first;
  const auto where = below ? position::below : position::above;
  const std::size_t cell = below ? 0 : axis.size - 2;
  const outside what = below ? rule.below : rule.above;
  if (what == outside::refuse) return {{cell, std::numeric_limits<T>::quiet_NaN()}, where};
  const bool finite = x >= std::numeric_limits<T>::lowest() && x <= (std::numeric_limits<T>::max)();
  if (what == outside::hold || !finite) return {{cell, below ? T{0} : T{1}}, where};
  const T t = (x - axis.points[cell]) / (axis.points[cell + 1] - axis.points[cell]);
  return {{cell, detail::hold(t, std::numeric_limits<T>::lowest(), (std::numeric_limits<T>::max)())}, where};
}

/// A value, and where each coordinate lay.
template <std::size_t R, class V>
struct reading {
  V value;
  std::array<position, R> where;

  [[nodiscard]] constexpr bool inside() const noexcept {
    for (const position p : where)
      if (p != position::inside) return false;
    return true;
  }
};

/// Multilinear value of a map with a rule per axis and side, and the status of every coordinate.
///
/// Outside: as `rules` say.
/// Errors:  a refused coordinate, and NaN, give NaN; `where` says which.
template <std::size_t R, std::floating_point T, affine_over<T> V, class... X>
requires one_coordinate_per_axis<R, T, X...>
[[nodiscard]] constexpr reading<R, V> read(const map_view<R, T, V>& map, const std::array<edges, R>& rules,
                                           X... x) noexcept {
  std::array<place<T>, R> at{};
  std::array<position, R> where{};
  const std::array<T, R> point{static_cast<T>(x)...};
  for (std::size_t i = 0; i < R; ++i) {
    const auto located = locate(map.axes[i], point[i], rules[i]);
    at[i] = located.at;
    where[i] = located.where;
  }
  return {interpolate(map, at), where};
}

}  // namespace fettle

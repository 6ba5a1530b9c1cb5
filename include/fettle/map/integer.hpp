// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <concepts>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <type_traits>

#include "fettle/map/integer_axis.hpp"
#include "fettle/map/scalar.hpp"
#include "fettle/map/strided_cells.hpp"
#include "fettle/map/view.hpp"

namespace fettle {

/// What `interpolate_fine` gives for cells V: units of 2^-16 of a cell's own. 32 bits hold every cell of 8 or 16 bits.
template <raw_integer V>
using fine_value = std::conditional_t<sizeof(V) == 4, std::int64_t,
                                      std::conditional_t<std::unsigned_integral<V>, std::uint32_t, std::int32_t>>;

namespace detail {

/// a * below + b * above in 64 bits, for weights that add up to 65536, negated where numbers have a sign: of weights
/// that are never negative a compiler may know it, and then multiplies with more instructions than one.
template <std::integral Narrow>
[[nodiscard]] constexpr auto weighed(Narrow a, Narrow b, std::uint32_t fraction) noexcept {
  static_assert(sizeof(Narrow) == 4);
  if constexpr (std::unsigned_integral<Narrow>) {
    return std::uint64_t{a} * (integer_one - fraction) + std::uint64_t{b} * fraction;
  } else {
    const auto above = -static_cast<std::int32_t>(fraction), below = -65536 - above;
    return std::int64_t{a} * below + std::int64_t{b} * above;
  }
}

/// Divided by 2^bits, to the nearest, half up: a shift of a negative number is a floor.
template <class Result, std::integral Value>
[[nodiscard]] constexpr Result rounded(Value value, int bits) noexcept {
  constexpr bool is_negated = std::signed_integral<Value>;
  const Value half = Value{1} << (bits - 1);
  return static_cast<Result>((is_negated ? half - value : half + value) >> bits);
}

/// Fixed-point arithmetic for cells of 8 and 16 bits: a `line` between two cells is exact in 32 bits, 16 of them below
/// the cell's own, and a line between two such lines, a `plane`, is exact in 64, 32 of them below. Weights add up to 1
/// exactly, so that a constant stays constant and no result leaves its corners. Signed planes are negated.
template <raw_integer V>
struct fixed_point {
  using line = fine_value<V>;
  static constexpr int line_bits = 16, plane_bits = 32;

  [[nodiscard]] static constexpr line between(V a, V b, std::uint32_t fraction) noexcept {
    return static_cast<line>(a) * static_cast<line>(integer_one - fraction) +
           static_cast<line>(b) * static_cast<line>(fraction);
  }
  [[nodiscard]] static constexpr auto between_lines(line a, line b, std::uint32_t fraction) noexcept {
    return weighed(a, b, fraction);
  }
  /// A plane as a line of the next axis.
  [[nodiscard]] static constexpr line as_line(auto plane) noexcept {
    return static_cast<line>(std::signed_integral<decltype(plane)> ? -plane >> 16 : plane >> 16);
  }
};

/// Cells of 32 bits: 14 bits below the cell's own from the first line on, more would not fit into 64. Lines and planes
/// are negated.
template <raw_integer V>
requires(sizeof(V) == 4) struct fixed_point<V> {
  using line = std::int64_t;
  static constexpr int line_bits = 14, plane_bits = 14;

  [[nodiscard]] static constexpr line between(V a, V b, std::uint32_t fraction) noexcept {
    const auto exact = weighed(a, b, fraction);
    return std::unsigned_integral<V> ? -static_cast<line>(exact >> 2) : static_cast<line>(exact >> 2);
  }
  [[nodiscard]] static constexpr line between_lines(line a, line b, std::uint32_t fraction) noexcept {
    return a + (((b - a) * static_cast<std::int32_t>(fraction)) >> 16);  // a floor; never beyond b
  }
  [[nodiscard]] static constexpr line as_line(line plane) noexcept { return plane; }
};

template <std::size_t Axis, std::size_t R, raw_integer V>
[[nodiscard]] constexpr auto integer_line(const V* cell, const std::array<std::ptrdiff_t, R>& step,
                                          const std::array<integer_place, R>& at) noexcept {
  const V* const low = cell + static_cast<std::ptrdiff_t>(at[Axis].index) * step[Axis];
  const V* const high = low + step[Axis];
  using fixed = fixed_point<V>;
  if constexpr (Axis + 1 == R) {
    return fixed::between(*low, *high, at[Axis].fraction);
  } else {
    const auto a = integer_line<Axis + 1>(low, step, at), b = integer_line<Axis + 1>(high, step, at);
    if constexpr (Axis + 2 == R) {
      return fixed::between_lines(a, b, at[Axis].fraction);
    } else {
      return fixed::between_lines(fixed::as_line(a), fixed::as_line(b), at[Axis].fraction);
    }
  }
}

/// With this many bits below the cell's own.
template <class Result, int Bits, std::size_t R, raw_integer V>
[[nodiscard]] constexpr Result integer_value(const strided_cells<R, V>& cells,
                                             const std::array<integer_place, R>& at) noexcept {
  static_assert(R <= 3, "fettle::interpolate reads integer cells of rank 0 to 3");
  using fixed = fixed_point<V>;
  if constexpr (R == 0) {
    return static_cast<Result>(static_cast<Result>(*cells.values) * (Result{1} << Bits));
  } else {
    const auto value = integer_line<0>(cells.values, cells.step, at);
    if constexpr (R == 1 && sizeof(V) < 4) {  // a line, which is not negated
      const auto half = static_cast<fine_value<V>>(Bits == 0 ? 32768 : 0);
      return static_cast<Result>(Bits == 0 ? (value + half) >> 16 : value);
    } else if constexpr (Bits > fixed::plane_bits) {
      return static_cast<Result>(-value * (1 << (Bits - fixed::plane_bits)));
    } else {
      return rounded<Result>(value, fixed::plane_bits - Bits);
    }
  }
}

}  // namespace detail

/// Multilinear value of integer cells at integer places, in integers throughout, in units of 2^-16 of a cell: a map of
/// coarse cells still gives a smooth output.
///
/// @return  within the range of the cells around the point, exact at the breakpoints, and for 8- and 16-bit cells the
///          nearest to what the places say (rank 3: one less at most); with 32-bit cells 14 of the 16 bits count. The
///          16-bit fraction of a place adds up to 2^-16 of the difference between neighbours per axis.
/// Unit:    65536 to a unit of the cells; `linear_scaling::physical_fine` says what it means.
template <std::size_t R, raw_integer V>
[[nodiscard]] constexpr fine_value<V> interpolate_fine(const strided_cells<R, V>& cells,
                                                       const std::array<integer_place, R>& at) noexcept {
  return detail::integer_value<fine_value<V>, 16>(cells, at);
}

template <std::size_t R, class T, raw_integer V>
[[nodiscard]] constexpr fine_value<V> interpolate_fine(const map_view<R, T, V>& map,
                                                       const std::array<integer_place, R>& at) noexcept {
  return interpolate_fine(cells_of(map), at);
}

/// The same rounded to the nearest cell unit, half up: with 8-bit cells within 1 of exact arithmetic, whatever the place.
template <std::size_t R, raw_integer V>
[[nodiscard]] constexpr V interpolate(const strided_cells<R, V>& cells,
                                      const std::array<integer_place, R>& at) noexcept {
  return detail::integer_value<V, 0>(cells, at);
}

template <std::size_t R, class T, raw_integer V>
[[nodiscard]] constexpr V interpolate(const map_view<R, T, V>& map, const std::array<integer_place, R>& at) noexcept {
  return interpolate(cells_of(map), at);
}

/// The same at integer coordinates; those beyond the axis, or its type, hold the end.
template <std::size_t R, raw_integer T, raw_integer V, class... X>
requires one_integer_per_axis<R, X...>
[[nodiscard]] constexpr V interpolate(const map_view<R, T, V>& map, X... x) noexcept {
  std::size_t i = 0;
  std::array<integer_place, R> at{};
  ((at[i] = locate(map.axes[i], detail::saturated<T>(x)), ++i), ...);
  return interpolate(map, at);
}

/// The same near the last point: the caller keeps `last`.
template <std::size_t R, raw_integer T, raw_integer V, class... X>
requires one_integer_per_axis<R, X...>
[[nodiscard]] constexpr V interpolate(const map_view<R, T, V>& map, std::array<integer_place, R>& last,
                                      X... x) noexcept {
  std::size_t i = 0;
  ((last[i] = locate(map.axes[i], detail::saturated<T>(x), last[i]), ++i), ...);
  return interpolate(map, last);
}

}  // namespace fettle

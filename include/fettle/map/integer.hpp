// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <concepts>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <optional>
#include <type_traits>

#include "fettle/map/axis.hpp"
#include "fettle/map/place.hpp"
#include "fettle/map/scalar.hpp"
#include "fettle/map/view.hpp"

namespace fettle {

/// Where a coordinate falls on an axis of integers: `fraction` in units of 2^-16, 65536 on the upper breakpoint.
struct integer_place {
  std::size_t index = 0;       ///< 0 .. size-2
  std::uint32_t fraction = 0;  ///< 0 .. 65536
};

inline constexpr std::uint32_t integer_one = 65536;

/// A look-up on axes of integers takes one integer for each axis.
template <std::size_t R, class... X>
concept one_integer_per_axis = sizeof...(X) == R && (std::integral<X> && ...);

namespace detail {

/// floor(part / whole * 65536) for part < whole.
template <std::unsigned_integral U>
[[nodiscard]] constexpr std::uint32_t fraction16(std::uint32_t part, U whole) noexcept {
  if (sizeof(U) < 4 || part < integer_one) return (part << 16) / whole;
  return static_cast<std::uint32_t>((std::uint64_t{part} << 16) / whole);
}

/// The distance between two breakpoints, right across the sign.
template <raw_integer T>
[[nodiscard]] constexpr std::uint32_t distance(T from, T to) noexcept {
  return static_cast<std::uint32_t>(to) - static_cast<std::uint32_t>(from);
}

template <raw_integer T>
[[nodiscard]] constexpr integer_place place_in(const axis_view<T>& axis, std::size_t index, T x) noexcept {
  using narrow = std::conditional_t<sizeof(T) < 4, std::uint16_t, std::uint32_t>;
  const T below = axis.points[index];
  return {index, fraction16(distance(below, x), static_cast<narrow>(distance(below, axis.points[index + 1])))};
}

/// A coordinate of any integer type as one of the axis, held at the ends of that type: nothing wraps round.
template <raw_integer T, std::integral X>
[[nodiscard]] constexpr T saturated(X x) noexcept {
  if constexpr (std::same_as<T, X>) {
    return x;
  } else {
    const auto wide = static_cast<std::int64_t>(x);
    if (std::unsigned_integral<X> && wide < 0) return (std::numeric_limits<T>::max)();
    if (wide < std::int64_t{(std::numeric_limits<T>::min)()}) return (std::numeric_limits<T>::min)();
    if (wide > std::int64_t{(std::numeric_limits<T>::max)()}) return (std::numeric_limits<T>::max)();
    return static_cast<T>(wide);
  }
}

}  // namespace detail

/// The place of a coordinate on an axis of integers, in integers.
///
/// Outside: the axis holds its end.
/// Cost:    as on an axis of floating-point numbers, and one division of 32 bits (of 64 where a cell of a 32-bit axis
///          is 65536 wide or more).
template <raw_integer T>
[[nodiscard]] constexpr integer_place locate(const axis_view<T>& axis, T x) noexcept {
  const T at = detail::hold(x, axis.points[0], axis.points[axis.size - 1]);
  const std::size_t index = detail::index_of(axis, at);
  if (index + 1 == axis.size) return {index - 1, integer_one};
  return detail::place_in(axis, index, at);
}

/// The same, found faster when it is in the cell of `last`.
template <raw_integer T>
[[nodiscard]] constexpr integer_place locate(const axis_view<T>& axis, T x, const integer_place& last) noexcept {
  if (axis.points[last.index] <= x && x < axis.points[last.index + 1]) return detail::place_in(axis, last.index, x);
  return locate(axis, x);
}

/// Evenly spaced integer breakpoints, computed: first + i interval (FIX_AXIS by distance).
template <raw_integer T>
class even_integer_axis {
 public:
  [[nodiscard]] static constexpr std::optional<even_integer_axis> from(T first, T interval, std::size_t size) noexcept {
    if (size < 2 || interval <= 0) return std::nullopt;
    const auto room = static_cast<std::uint64_t>(detail::distance(first, (std::numeric_limits<T>::max)()));
    if (size - 1 > room / static_cast<std::uint64_t>(interval)) return std::nullopt;
    return even_integer_axis{first, static_cast<std::uint32_t>(interval), size};
  }

  [[nodiscard]] constexpr std::size_t size() const noexcept { return size_; }

  /// Cost: two divisions, no search.
  [[nodiscard]] constexpr integer_place locate(T x) const noexcept {
    if (x <= first_) return {0, 0};
    const std::uint32_t distance = detail::distance(first_, x), index = distance / interval_;
    if (index >= size_ - 1) return {size_ - 2, integer_one};
    return {index, detail::fraction16(distance - index * interval_, interval_)};
  }

 private:
  constexpr even_integer_axis(T first, std::uint32_t interval, std::size_t size) noexcept
      : first_{first}, interval_{interval}, size_{size} {}
  T first_;
  std::uint32_t interval_;
  std::size_t size_;
};

/// Evenly spaced integer breakpoints a power of two apart: first + i 2^shift (FIX_AXIS by shift).
template <raw_integer T>
class shift_axis {
 public:
  [[nodiscard]] static constexpr std::optional<shift_axis> from(T first, unsigned shift, std::size_t size) noexcept {
    if (size < 2 || shift > 31) return std::nullopt;
    if (size - 1 > detail::distance(first, (std::numeric_limits<T>::max)()) >> shift) return std::nullopt;
    return shift_axis{first, shift, size};
  }

  [[nodiscard]] constexpr std::size_t size() const noexcept { return size_; }

  /// Cost: two shifts, no search and no division.
  [[nodiscard]] constexpr integer_place locate(T x) const noexcept {
    if (x <= first_) return {0, 0};
    const std::uint32_t distance = detail::distance(first_, x), index = distance >> shift_;
    if (index >= size_ - 1) return {size_ - 2, integer_one};
    const std::uint32_t part = distance - (index << shift_);
    return {index, shift_ <= 16 ? part << (16 - shift_) : part >> (shift_ - 16)};
  }

 private:
  constexpr shift_axis(T first, unsigned shift, std::size_t size) noexcept
      : first_{first}, shift_{shift}, size_{size} {}
  T first_;
  unsigned shift_;
  std::size_t size_;
};

template <raw_integer T>
[[nodiscard]] constexpr integer_place locate(const even_integer_axis<T>& axis, T x) noexcept {
  return axis.locate(x);
}

template <raw_integer T>
[[nodiscard]] constexpr integer_place locate(const shift_axis<T>& axis, T x) noexcept {
  return axis.locate(x);
}

namespace detail {

/// Fixed-point arithmetic for cells of one type: values carry `guard` bits below the cell's own, so that the floors of
/// up to three steps together stay far below one cell unit, and no product overflows.
template <std::integral V>
struct fixed_point {
  static_assert(sizeof(V) <= 4, "fettle::interpolate takes integer cells of 8, 16 or 32 bits");
  static constexpr int guard = sizeof(V) == 1 ? 6 : 14;
  using value = std::conditional_t<sizeof(V) <= 2, std::int32_t, std::int64_t>;
  using product = std::conditional_t<sizeof(V) == 1, std::int32_t, std::int64_t>;

  /// a + floor((b - a) fraction / 65536): a shift of a negative number is a floor, a division would truncate.
  [[nodiscard]] static constexpr value along(value a, value b, std::uint32_t fraction) noexcept {
    return a + static_cast<value>((product{b - a} * static_cast<std::int32_t>(fraction)) >> 16);
  }
  [[nodiscard]] static constexpr value widened(V cell) noexcept { return static_cast<value>(cell) * (1 << guard); }
  [[nodiscard]] static constexpr V rounded(value v) noexcept {
    return static_cast<V>((v + (value{1} << (guard - 1))) >> guard);
  }
};

template <std::size_t Axis, std::size_t R, class T, std::integral V>
[[nodiscard]] constexpr typename fixed_point<V>::value multilinear16(const map_view<R, T, V>& map,
                                                                     const std::array<integer_place, R>& at,
                                                                     std::size_t cell) noexcept {
  if constexpr (Axis == R) {
    return fixed_point<V>::widened(map.values[cell]);
  } else {
    const std::size_t below = Axis == 0 ? at[0].index : cell * map.axes[Axis].size + at[Axis].index;
    return fixed_point<V>::along(multilinear16<Axis + 1>(map, at, below), multilinear16<Axis + 1>(map, at, below + 1),
                                 at[Axis].fraction);
  }
}

}  // namespace detail

/// Multilinear value of integer cells at integer places, in integers throughout.
///
/// @return  rounded to the nearest cell unit (half up), within the range of the cells around the point, exact at the
///          breakpoints. With 8-bit cells within 1 of exact arithmetic; with wider cells the 16-bit fraction adds up to
///          2^-16 of the difference between neighbours per axis.
/// Unit:    the cells' own; `linear_scaling` says what they mean.
template <std::size_t R, class T, std::integral V>
[[nodiscard]] constexpr V interpolate(const map_view<R, T, V>& map, const std::array<integer_place, R>& at) noexcept {
  return detail::fixed_point<V>::rounded(detail::multilinear16<0>(map, at, 0));
}

/// The same at integer coordinates; those beyond the axis, or its type, hold the end.
template <std::size_t R, raw_integer T, std::integral V, class... X>
requires one_integer_per_axis<R, X...>
[[nodiscard]] constexpr V interpolate(const map_view<R, T, V>& map, X... x) noexcept {
  std::size_t i = 0;
  std::array<integer_place, R> at{};
  ((at[i] = locate(map.axes[i], detail::saturated<T>(x)), ++i), ...);
  return interpolate(map, at);
}

/// The same near the last point: the caller keeps `last`.
template <std::size_t R, raw_integer T, std::integral V, class... X>
requires one_integer_per_axis<R, X...>
[[nodiscard]] constexpr V interpolate(const map_view<R, T, V>& map, std::array<integer_place, R>& last,
                                      X... x) noexcept {
  std::size_t i = 0;
  ((last[i] = locate(map.axes[i], detail::saturated<T>(x), last[i]), ++i), ...);
  return interpolate(map, last);
}

/// What a raw integer means: physical = factor * raw + offset (the LINEAR conversion of calibration data).
template <std::floating_point T>
struct linear_scaling {
  T factor{1};  ///< not 0
  T offset{0};

  [[nodiscard]] constexpr T physical(std::integral auto raw) const noexcept {
    return factor * static_cast<T>(raw) + offset;
  }

  /// The raw value nearest to (value - offset) / factor; half way, the one further from 0.
  ///
  /// Outside: the end of the raw type's range.
  /// Errors:  nothing for NaN.
  template <raw_integer Raw>
  [[nodiscard]] constexpr std::optional<Raw> raw(T value) const noexcept {
    using limits = std::numeric_limits<Raw>;
    const T exact = (value - offset) / factor;
    if (!(exact == exact)) return std::nullopt;
    if (exact <= static_cast<T>((limits::min)())) return (limits::min)();
    if (exact >= static_cast<T>((limits::max)())) return (limits::max)();
    const auto whole = static_cast<Raw>(exact);    // towards 0
    const T rest = exact - static_cast<T>(whole);  // without rounding; to add 0.5 to `exact` would round
    if (rest >= T{0.5}) return static_cast<Raw>(whole + 1);
    if (rest <= T{-0.5}) return static_cast<Raw>(whole - 1);
    return whole;
  }
};

}  // namespace fettle

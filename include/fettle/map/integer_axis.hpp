// SPDX-License-Identifier: MIT
#pragma once

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

/// floor(part / whole * 65536) for part <= whole.
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

/// The distance of a coordinate from the first breakpoint, held between 0 and the axis's span, without a branch.
template <raw_integer T>
[[nodiscard]] constexpr std::uint32_t distance_within(T first, T x, std::uint32_t span) noexcept {
  const std::uint32_t beyond = x > first ? distance(first, x) : 0;
  return beyond < span ? beyond : span;
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

  [[nodiscard]] constexpr std::size_t size() const noexcept { return std::size_t{last_cell_} + 2; }

  /// Cost: two divisions, no search.
  [[nodiscard]] constexpr integer_place locate(T x) const noexcept {
    const std::uint32_t from_first = detail::distance_within(first_, x, span_), whole = from_first / interval_;
    const std::uint32_t index = whole < last_cell_ ? whole : last_cell_;
    return {index, detail::fraction16(from_first - index * interval_, interval_)};
  }

 private:
  constexpr even_integer_axis(T first, std::uint32_t interval, std::size_t size) noexcept
      : first_{first},
        interval_{interval},
        last_cell_{static_cast<std::uint32_t>(size - 2)},
        span_{static_cast<std::uint32_t>(size - 1) * interval} {}
  T first_;
  std::uint32_t interval_, last_cell_, span_;
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

  [[nodiscard]] constexpr std::size_t size() const noexcept { return std::size_t{last_cell_} + 2; }

  /// Cost: two shifts, no search and no division.
  [[nodiscard]] constexpr integer_place locate(T x) const noexcept {
    const std::uint32_t from_first = detail::distance_within(first_, x, span_), whole = from_first >> shift_;
    const std::uint32_t index = whole < last_cell_ ? whole : last_cell_, part = from_first - (index << shift_);
    return {index, shift_ <= 16 ? part << (16 - shift_) : part >> (shift_ - 16)};
  }

 private:
  constexpr shift_axis(T first, unsigned shift, std::size_t size) noexcept
      : first_{first},
        shift_{shift},
        last_cell_{static_cast<std::uint32_t>(size - 2)},
        span_{static_cast<std::uint32_t>(size - 1) << shift} {}
  T first_;
  unsigned shift_;
  std::uint32_t last_cell_, span_;
};

template <raw_integer T>
[[nodiscard]] constexpr integer_place locate(const even_integer_axis<T>& axis, T x) noexcept {
  return axis.locate(x);
}

template <raw_integer T>
[[nodiscard]] constexpr integer_place locate(const shift_axis<T>& axis, T x) noexcept {
  return axis.locate(x);
}

}  // namespace fettle

// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>
#include <cstddef>
#include <limits>
#include <optional>

#include "fettle/map/axis.hpp"
#include "fettle/map/place.hpp"

namespace fettle {

/// Evenly spaced breakpoints that are computed, not stored: first, first + interval, first + 2 interval, ...
///
/// In calibration data this is a FIX_AXIS given by offset and distance, or by offset and shift (ASAM MCD-2 MC). It
/// finds places for `cells`, which bring no axes of their own.
///
/// Unit:   the input's own.
/// Shape:  2 to 4 million (double: 2^51) breakpoints in four words.
/// Errors: a literal that breaks the rule does not compile; run-time data goes through `from()`, `check` names the
///         fault. An interval of less than about two units in the last place of an end is `not_increasing`: rounding
///         could make breakpoints repeat.
template <std::floating_point T>
class even_axis {
 public:
  consteval even_axis(T first, T interval, std::size_t size) : even_axis{first, interval, T{1} / interval, size} {
    if (check(first, interval, size) != axis_fault::none) breakpoints_must_be_finite_and_strictly_increasing();
  }

  [[nodiscard]] static constexpr axis_fault check(T first, T interval, std::size_t size) noexcept {
    constexpr T most = (std::numeric_limits<T>::max)() / T{4};  // no sum of two such numbers overflows
    if (size < 2) return axis_fault::too_few;
    if (!(first >= -most && first <= most && interval <= most)) return axis_fault::not_finite;
    if (!(interval >= T{4} * (std::numeric_limits<T>::min)())) return axis_fault::not_increasing;
    const T cells = static_cast<T>(size - 1);
    if (interval > most / cells) return axis_fault::too_wide;
    const T last = first + cells * interval;
    // With so few cells the rounding of i interval takes less than half of an interval from between two breakpoints.
    // What is left still tells them apart where a quarter of it counts at both ends, where numbers are coarsest.
    constexpr T most_cells = T{0.5} / std::numeric_limits<T>::epsilon();
    if (!(cells <= most_cells && first < first + interval / T{4} && last - interval / T{4} < last))
      return axis_fault::not_increasing;
    return axis_fault::none;
  }

  [[nodiscard]] static constexpr std::optional<even_axis> from(T first, T interval, std::size_t size) noexcept {
    if (check(first, interval, size) != axis_fault::none) return std::nullopt;
    return even_axis{first, interval, T{1} / interval, size};
  }

  /// The axis whose interval is 2^shift.
  [[nodiscard]] static constexpr std::optional<even_axis> from_shift(T first, int shift, std::size_t size) noexcept {
    T interval{1};
    for (; shift > 0 && interval <= (std::numeric_limits<T>::max)() / T{4}; --shift) interval *= T{2};
    for (; shift < 0 && interval > T{0}; ++shift) interval /= T{2};
    return from(first, interval, size);
  }

  [[nodiscard]] constexpr std::size_t size() const noexcept { return size_; }
  [[nodiscard]] constexpr T point(std::size_t i) const noexcept { return first_ + static_cast<T>(i) * interval_; }

  /// The place of a coordinate: exact on the breakpoints as `point` gives them.
  ///
  /// Outside: the axis holds its end.
  /// Errors:  NaN gives a NaN fraction in the first cell.
  /// Cost:    two multiplications, no search.
  [[nodiscard]] constexpr place<T> locate(T x) const noexcept {
    constexpr T most = T{1} - std::numeric_limits<T>::epsilon() / T{2};
    if (!(x == x)) return {0, x};
    if (x <= first_) return {0, T{0}};
    if (x >= point(size_ - 1)) return {size_ - 2, T{1}};
    auto index = static_cast<std::size_t>(static_cast<std::ptrdiff_t>((x - first_) * per_unit_));
    if (index > size_ - 2) index = size_ - 2;
    if (x < point(index)) --index;  // rounding may have gone one cell too far, or not far enough
    if (x >= point(index + 1)) ++index;
    const T t = (x - point(index)) * per_unit_;
    return {index, most < t ? most : t};
  }

 private:
  constexpr even_axis(T first, T interval, T per_unit, std::size_t size) noexcept
      : first_{first}, interval_{interval}, per_unit_{per_unit}, size_{size} {}
  static void breakpoints_must_be_finite_and_strictly_increasing();  // not constexpr: its name is the message

  T first_, interval_, per_unit_;
  std::size_t size_;
};

template <std::floating_point T>
[[nodiscard]] constexpr place<T> locate(const even_axis<T>& axis, T x) noexcept {
  return axis.locate(x);
}

}  // namespace fettle

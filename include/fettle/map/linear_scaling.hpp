// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>
#include <limits>
#include <optional>

#include "fettle/map/scalar.hpp"

namespace fettle {

/// What a raw integer means: physical = factor * raw + offset (the LINEAR conversion of calibration data).
template <std::floating_point T>
struct linear_scaling {
  T factor{1};  ///< not 0
  T offset{0};

  [[nodiscard]] constexpr T physical(std::integral auto raw) const noexcept {
    return factor * static_cast<T>(raw) + offset;
  }

  /// The same for a result of `interpolate_fine`, 65536 to a raw unit.
  [[nodiscard]] constexpr T physical_fine(std::integral auto fine) const noexcept {
    return factor / T{65536} * static_cast<T>(fine) + offset;
  }

  /// A value in raw units, not rounded: the coordinate that an axis of raw breakpoints takes.
  [[nodiscard]] constexpr T in_raw_units(T value) const noexcept { return (value - offset) / factor; }

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

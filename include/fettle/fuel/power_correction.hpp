// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>
#include <limits>

#include "fettle/fuel/root.hpp"

namespace fettle {

/// The air of a power measurement.
template <std::floating_point T>
struct test_air {
  T dry_pressure_kpa = 0;  ///< barometric pressure less that of the water vapour
  T temperature_degc = 0;  ///< at the intake
};

namespace detail {

/// 99 kPa over the dry pressure and the temperature over 298 K, the standard state of both rules.
template <std::floating_point T>
struct against_standard {
  T pressure, temperature;
  constexpr explicit against_standard(const test_air<T>& air) noexcept
      : pressure{T{99} / air.dry_pressure_kpa}, temperature{(air.temperature_degc + T{273}) / T{298}} {
    if (!(air.dry_pressure_kpa > T{0} && temperature > T{0})) pressure = std::numeric_limits<T>::quiet_NaN();
  }
};

}  // namespace detail

/// Factor that brings the measured power or torque of a naturally aspirated spark-ignition engine to 99 kPa of dry air
/// at 25 degC, by ISO 1585: (99/p)^1.2 (T/298)^0.6.
///
/// Outside: the standard holds a test invalid when the factor leaves 0.93 to 1.07 (from memory).
/// Errors:  NaN for a pressure that is not positive or a temperature below absolute zero.
/// Source:  ISO 1585, "Road vehicles - Engine test code - Net power"; the formula as public program texts state it,
///          the standard itself was not read, and no worked example of it was found. Compared with other rules by J. R.
///          Sodre, S. M. C. Soares, "Comparison of engine power correction factors for varying atmospheric conditions",
///          J. Braz. Soc. Mech. Sci. Eng. 25 (2003).
template <std::floating_point T>
[[nodiscard]] constexpr T iso_1585_factor(const test_air<T>& air) noexcept {
  const detail::against_standard<T> ratio{air};
  const T fifth_root = detail::root<5>(ratio.temperature);
  return ratio.pressure * detail::root<5>(ratio.pressure) * (fifth_root * fifth_root * fifth_root);
}

/// The factor of SAE J1349 (June 1990): 1.18 (99/p) sqrt(T/298) - 0.18, which assumes 85 % mechanical efficiency, so
/// that only the indicated power is corrected.
///
/// Outside: valid within 7 % of 1 (from memory).
/// Errors:  as `iso_1585_factor`.
/// Source:  SAE J1349, "Engine power test code - spark ignition and compression ignition - net power rating"; the
///          formula as published pages quote it, the standard itself was not read.
template <std::floating_point T>
[[nodiscard]] constexpr T sae_j1349_factor(const test_air<T>& air) noexcept {
  const detail::against_standard<T> ratio{air};
  return static_cast<T>(1.18L) * ratio.pressure * detail::square_root(ratio.temperature) - static_cast<T>(0.18L);
}

}  // namespace fettle

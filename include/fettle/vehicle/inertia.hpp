// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>
#include <limits>

namespace fettle {

/// A flat round part of even thickness: a disc, or a ring when it has a hole.
template <std::floating_point T>
struct round_part {
  T mass_kg = 0;
  T outer_radius_m = 0;
  T inner_radius_m = 0;  ///< 0: no hole
};

/// Moment of inertia of a disc or ring about its axis.
///
/// Unit:   kg m^2.
/// Errors: NaN for a negative mass or radius, or a hole as large as the part.
/// Source: m (ro^2 + ri^2) / 2, any handbook of mechanics.
template <std::floating_point T>
[[nodiscard]] constexpr T inertia_kgm2(const round_part<T>& part) noexcept {
  const bool is_sound =
      part.mass_kg >= T{0} && part.inner_radius_m >= T{0} && part.outer_radius_m > part.inner_radius_m;
  if (!is_sound) return std::numeric_limits<T>::quiet_NaN();
  return part.mass_kg / T{2} * (part.outer_radius_m * part.outer_radius_m + part.inner_radius_m * part.inner_radius_m);
}

/// Inertia of a driven part as its driver feels it; the ratio is the driver's speed over the driven part's.
///
/// Source: equal kinetic energy: J / ratio^2. R. G. Budynas, J. K. Nisbett, "Shigley's Mechanical Engineering Design",
///         McGraw-Hill, chapter 16.
template <std::floating_point T>
[[nodiscard]] constexpr T inertia_at_driver(T driven_kgm2, T ratio) noexcept {
  return driven_kgm2 / (ratio * ratio);
}

/// Inertia of a driver as the driven part feels it.
template <std::floating_point T>
[[nodiscard]] constexpr T inertia_at_driven(T driver_kgm2, T ratio) noexcept {
  return driver_kgm2 * (ratio * ratio);
}

/// What turns in a car, about each part's own axis.
template <std::floating_point T>
struct rotating_inertia {
  T wheels_kgm2 = 0;  ///< all wheels, brakes and what turns at their speed
  T shafts_kgm2 = 0;  ///< what turns at the speed of the final drive's input
  T engine_kgm2 = 0;  ///< crank, flywheel, clutch and what turns at engine speed
};

}  // namespace fettle

// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>

namespace fettle {

/// Standard acceleration of free fall, exact by definition (CGPM 1901).
template <std::floating_point T>
inline constexpr T standard_gravity_mps2 = static_cast<T>(9.80665L);

/// Resistance of a car on a level road in still air: A + B v + C v^2.
template <std::floating_point T>
struct road_load {
  T constant_n = 0;            ///< A, mostly rolling resistance
  T linear_ns_per_m = 0;       ///< B
  T quadratic_ns2_per_m2 = 0;  ///< C, mostly air drag: half the density times drag coefficient and frontal area
};

/// Force that holds a car back at a speed, forwards only.
///
/// Unit:   N; m/s.
/// Source: the road-load force of U.S. 40 CFR 1066.210, whose coefficients A, B and C come from coast-downs by SAE
///         J1263 and J2263 (40 CFR 1066.301).
template <std::floating_point T>
[[nodiscard]] constexpr T road_load_n(const road_load<T>& load, T speed_mps) noexcept {
  return load.constant_n + (load.linear_ns_per_m + load.quadratic_ns2_per_m2 * speed_mps) * speed_mps;
}

/// Force by which a slope holds a car back.
///
/// @param rise  metres of height per metre of road (the sine of its angle, within 0.5 % of its tangent up to 0.1);
///              negative downhill.
/// Source: the weight's part along the slope.
template <std::floating_point T>
[[nodiscard]] constexpr T slope_force_n(T mass_kg, T rise) noexcept {
  return mass_kg * standard_gravity_mps2<T> * rise;
}

}  // namespace fettle

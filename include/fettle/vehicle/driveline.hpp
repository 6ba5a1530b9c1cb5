// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>
#include <limits>
#include <numbers>

#include "fettle/vehicle/inertia.hpp"

namespace fettle {

/// From engine to road in one gear. A tyre grows with centrifugal force, so with v^2: common practice, no source.
template <std::floating_point T>
struct driveline {
  T gear_ratio = 0;       ///< engine speed over the speed of the final drive's input
  T final_ratio = 0;      ///< the final drive's input over the wheels
  T wheel_radius_m = 0;   ///< rolling radius at walking pace
  T efficiency = 1;       ///< of power from the engine to the wheels, above 0 to 1
  T growth_per_m2s2 = 0;  ///< tyre growth: the radius at v is wheel_radius_m (1 + growth v^2)

  [[nodiscard]] constexpr T overall_ratio() const noexcept { return gear_ratio * final_ratio; }
  [[nodiscard]] constexpr T radius_m(T speed_mps) const noexcept {
    return wheel_radius_m * (T{1} + growth_per_m2s2 * speed_mps * speed_mps);
  }
  /// Ratios, radius and efficiency above 0, efficiency at most 1, no shrinking tyre.
  [[nodiscard]] constexpr bool is_valid() const noexcept {
    return gear_ratio > T{0} && final_ratio > T{0} && wheel_radius_m > T{0} && efficiency > T{0} &&
           efficiency <= T{1} && growth_per_m2s2 >= T{0};
  }
};

/// rpm of a shaft that turns at so many radians a second.
template <std::floating_point T>
[[nodiscard]] constexpr T rpm_of(T rad_per_s) noexcept {
  return rad_per_s * (T{30} / std::numbers::pi_v<T>);
}
/// Radians a second of a shaft at so many rpm.
template <std::floating_point T>
[[nodiscard]] constexpr T rad_per_s_of(T rpm) noexcept {
  return rpm * (std::numbers::pi_v<T> / T{30});
}

/// Engine speed at a road speed.
///
/// @param slip  of the driven tyres: wheel speed over road speed, less one.
/// Source: kinematics of wheel and gears.
template <std::floating_point T>
[[nodiscard]] constexpr T engine_rpm(const driveline<T>& gear, T speed_mps, T slip = T{0}) noexcept {
  return rpm_of(speed_mps * (T{1} + slip) / gear.radius_m(speed_mps) * gear.overall_ratio());
}

/// Road speed at an engine speed, without slip: the inverse of `engine_rpm`.
///
/// Errors: NaN where a growing tyre has no such speed: growth so large that its radius runs away.
template <std::floating_point T>
[[nodiscard]] constexpr T road_speed_mps(const driveline<T>& gear, T engine_rpm) noexcept {
  const T without_growth = rad_per_s_of(engine_rpm) * gear.wheel_radius_m / gear.overall_ratio();
  const T g = gear.growth_per_m2s2 * without_growth;
  if (!(T{4} * g * without_growth < T{1})) return std::numeric_limits<T>::quiet_NaN();
  T v = without_growth;  // v = w + g v^2 by Newton from below the smaller root: rises to it
  for (int i = 0; i < 60; ++i) {
    const T next = v + (without_growth + g * v * v - v) / (T{1} - T{2} * g * v);
    if (!(next > v)) break;
    v = next;
  }
  return v;
}

/// Slip of the driven tyres: their speed over the road's, less one.
///
/// Errors: NaN or infinite at standstill.
/// Source: the slip ratio of SAE J670, "Vehicle Dynamics Terminology", of a tyre that runs straight (from memory).
template <std::floating_point T>
[[nodiscard]] constexpr T tyre_slip(const driveline<T>& gear, T engine_rpm, T speed_mps) noexcept {
  return rad_per_s_of(engine_rpm) / gear.overall_ratio() * gear.radius_m(speed_mps) / speed_mps - T{1};
}

/// The mass that would resist acceleration as what turns does: I_w/r^2 + I_s i_f^2/r^2 + I_e (i_f i_g)^2/r^2.
///
/// Unit:   kg, at walking pace's radius.
/// Source: equal kinetic energy; the form as vehicle dynamics courses give it, e.g. T. D. Gillespie, "Fundamentals of
///         Vehicle Dynamics", SAE 1992, chapter 2 (from memory). Losses between the parts are not counted.
template <std::floating_point T>
[[nodiscard]] constexpr T rotating_mass_kg(const rotating_inertia<T>& turning, const driveline<T>& gear) noexcept {
  const T at_wheels = turning.wheels_kgm2 + inertia_at_driven(turning.shafts_kgm2, gear.final_ratio) +
                      inertia_at_driven(turning.engine_kgm2, gear.overall_ratio());
  return at_wheels / (gear.wheel_radius_m * gear.wheel_radius_m);
}

}  // namespace fettle

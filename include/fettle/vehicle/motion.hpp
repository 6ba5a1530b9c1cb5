// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>

#include "fettle/vehicle/driveline.hpp"
#include "fettle/vehicle/inertia.hpp"
#include "fettle/vehicle/road_load.hpp"

namespace fettle {

/// A car as far as it resists acceleration.
template <std::floating_point T>
struct car {
  T mass_kg = 0;  ///< with driver and fuel
  rotating_inertia<T> turning{};
  road_load<T> load{};
};

/// How a car moves at one moment.
template <std::floating_point T>
struct motion {
  T speed_mps = 0;
  T acceleration_mps2 = 0;
  T rise = 0;  ///< of the road, metres of height per metre of road
};

/// Mass that resists acceleration without the engine: out of gear, or what the engine has to move besides itself.
///
/// Unit:   kg, its rotating part at walking pace's radius.
template <std::floating_point T>
[[nodiscard]] constexpr T driven_mass_kg(const car<T>& c, const driveline<T>& gear) noexcept {
  rotating_inertia<T> driven = c.turning;
  driven.engine_kgm2 = T{0};
  return c.mass_kg + rotating_mass_kg(driven, gear);
}

namespace detail {

/// Engine speed in rad/s per m/s of the car; by equal power also the wheels' force in N per N m of the engine.
template <std::floating_point T>
[[nodiscard]] constexpr T turns_per_metre(const driveline<T>& gear, T speed_mps) noexcept {
  return gear.overall_ratio() / gear.radius_m(speed_mps);
}

/// Acceleration of the engine in rad/s^2 per m/s^2 of the car: less than `turns_per_metre` where tyres grow.
template <std::floating_point T>
[[nodiscard]] constexpr T spin_per_acceleration(const driveline<T>& gear, T speed_mps) noexcept {
  const T growth = gear.growth_per_m2s2 * speed_mps * speed_mps;
  return turns_per_metre(gear, speed_mps) * (T{1} - growth) / (T{1} + growth);
}

}  // namespace detail

/// Mass that resists acceleration in a gear: the car's own and that of all that turns.
template <std::floating_point T>
[[nodiscard]] constexpr T equivalent_mass_kg(const car<T>& c, const driveline<T>& gear) noexcept {
  return c.mass_kg + rotating_mass_kg(c.turning, gear);
}

/// Force that the driven wheels put on the road: inertia of all they move, resistance and slope.
///
/// Unit:   N.
/// Source: Newton's second law with `rotating_mass_kg`.
template <std::floating_point T>
[[nodiscard]] constexpr T wheel_force_n(const car<T>& c, const driveline<T>& gear, const motion<T>& now) noexcept {
  return driven_mass_kg(c, gear) * now.acceleration_mps2 + road_load_n(c.load, now.speed_mps) +
         slope_force_n(c.mass_kg, now.rise);
}

/// Torque of the engine from how the car moves: what accelerates its own inertia, and the wheels' force through the
/// gears with their losses.
///
/// Unit:   N m at the crank, brake torque.
/// Outside: under driving torque; on the overrun the losses fall on the other side.
/// Source: T = I_e dw_e/dt + F r / (i_f i_g efficiency), as in T. D. Gillespie, "Fundamentals of Vehicle Dynamics", SAE
///         1992, chapter 2 (from memory), but for the growing tyre: w_e = v i / r(v), whose derivative is
///         `detail::spin_per_acceleration`.
template <std::floating_point T>
[[nodiscard]] constexpr T engine_torque_nm(const car<T>& c, const driveline<T>& gear, const motion<T>& now) noexcept {
  const T turns = detail::turns_per_metre(gear, now.speed_mps);
  return c.turning.engine_kgm2 * detail::spin_per_acceleration(gear, now.speed_mps) * now.acceleration_mps2 +
         wheel_force_n(c, gear, now) / (turns * gear.efficiency);
}

/// Acceleration of the car from the torque of its engine: the inverse of `engine_torque_nm`.
///
/// @param now  speed and slope; its acceleration is not used.
/// Unit:       m/s^2.
template <std::floating_point T>
[[nodiscard]] constexpr T acceleration_mps2(const car<T>& c, const driveline<T>& gear, const motion<T>& now,
                                            T torque_nm) noexcept {
  const T turns = detail::turns_per_metre(gear, now.speed_mps) * gear.efficiency;
  const T inertia = c.turning.engine_kgm2 * detail::spin_per_acceleration(gear, now.speed_mps) * turns;
  const T resistance = road_load_n(c.load, now.speed_mps) + slope_force_n(c.mass_kg, now.rise);
  return (torque_nm * turns - resistance) / (driven_mass_kg(c, gear) + inertia);
}

/// Power of a force at a speed: their product.
template <std::floating_point T>
[[nodiscard]] constexpr T power_kw(T force_n, T speed_mps) noexcept {
  return force_n * speed_mps / T{1000};
}

/// Power of a torque at an engine speed; 1 N m is 1 kW at 9549.297 rpm.
template <std::floating_point T>
[[nodiscard]] constexpr T shaft_power_kw(T torque_nm, T rpm) noexcept {
  return torque_nm * rad_per_s_of(rpm) / T{1000};
}

}  // namespace fettle

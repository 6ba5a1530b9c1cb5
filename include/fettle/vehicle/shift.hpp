// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>
#include <cstddef>
#include <limits>

#include "fettle/map/interpolate.hpp"
#include "fettle/map/view.hpp"
#include "fettle/vehicle/motion.hpp"

namespace fettle {

/// Engine speed after a change of gear at constant road speed: in proportion to the ratios.
template <std::floating_point T>
[[nodiscard]] constexpr T rpm_after_shift(T rpm, T from_ratio, T to_ratio) noexcept {
  return rpm * to_ratio / from_ratio;
}

/// Kinetic energy that an inertia takes up from one speed to another, I (w2^2 - w1^2) / 2; negative when it gives it
/// away.
template <std::floating_point T>
[[nodiscard]] constexpr T spin_up_energy_j(T inertia_kgm2, T from_rpm, T to_rpm) noexcept {
  const T from = rad_per_s_of(from_rpm), to = rad_per_s_of(to_rpm);
  return inertia_kgm2 / T{2} * (to - from) * (to + from);
}

/// Two neighbouring gears of a car.
template <std::floating_point T>
struct gear_pair {
  driveline<T> lower{};  ///< the shorter gear: the larger ratio
  driveline<T> higher{};
};

/// Range of engine speeds in which to look for a shift.
template <std::floating_point T>
struct shift_range {
  T from_rpm = 0;
  T limit_rpm = 0;  ///< the limiter, or the fastest speed that is allowed
};

namespace detail {

/// Acceleration gained by the higher gear at the road speed where the lower one turns the engine at `rpm`.
template <std::floating_point T>
[[nodiscard]] constexpr T gained_by_shifting(const car<T>& c, const gear_pair<T>& gears,
                                             const map_view<1, T>& torque_nm, T rpm) noexcept {
  const T v = road_speed_mps(gears.lower, rpm);
  const motion<T> now{.speed_mps = v};
  return acceleration_mps2(c, gears.higher, now, interpolate(torque_nm, engine_rpm(gears.higher, v))) -
         acceleration_mps2(c, gears.lower, now, interpolate(torque_nm, rpm));
}

}  // namespace detail

/// Best engine speed to change up for acceleration: the highest from which the next gear accelerates at least as well
/// up to the limit; the limit where the lower gear is better all the way.
///
/// @param torque_nm  full-load torque over engine speed, at standard or the day's air.
/// @return           rpm in the lower gear. The time lost while changing is not counted: it moves the best speed little,
///                   because both accelerations are equal there.
/// Errors:           NaN unless 0 < from < limit and the lower gear has the larger ratio.
/// Source:           a shift where both gears accelerate alike gains the most speed: common practice, no source; the
///                   reason is that the acceleration is then the larger of the two at every road speed.
/// Cost:             some 200 evaluations of two accelerations.
template <std::floating_point T>
[[nodiscard]] constexpr T best_shift_rpm(const car<T>& c, const gear_pair<T>& gears, const map_view<1, T>& torque_nm,
                                         const shift_range<T>& range) noexcept {
  const bool is_sound = range.from_rpm > T{0} && range.limit_rpm > range.from_rpm &&
                        gears.lower.overall_ratio() > gears.higher.overall_ratio() && gears.lower.is_valid() &&
                        gears.higher.is_valid();
  if (!is_sound) return std::numeric_limits<T>::quiet_NaN();
  const auto gained = [&](T rpm) { return detail::gained_by_shifting(c, gears, torque_nm, rpm); };
  if (!(gained(range.limit_rpm) >= T{0})) return range.limit_rpm;
  constexpr int steps = 150;
  const T step = (range.limit_rpm - range.from_rpm) / T{steps};
  T better = range.limit_rpm;  // here the higher gear accelerates at least as well
  for (int i = 1; i <= steps; ++i) {
    T worse = range.limit_rpm - step * static_cast<T>(i);
    if (gained(worse) >= T{0}) {
      better = worse;
      continue;
    }
    for (int halving = 0; halving < 40; ++halving) {
      const T middle = (worse + better) / T{2};
      (gained(middle) >= T{0} ? better : worse) = middle;
    }
    return better;
  }
  return better;
}

/// Engine torque at which a gear's dogs carry nothing: what the engine's own inertia needs while the rest of the car
/// coasts. Slightly negative, because the car slows down.
///
/// Unit:   N m.
/// Source: Newton's second law for car and engine that turn together without a torque between them.
template <std::floating_point T>
[[nodiscard]] constexpr T unloaded_torque_nm(const car<T>& c, const driveline<T>& gear, const motion<T>& now) noexcept {
  const T resistance = road_load_n(c.load, now.speed_mps) + slope_force_n(c.mass_kg, now.rise);
  const T coasting = -resistance / driven_mass_kg(c, gear);
  return c.turning.engine_kgm2 * detail::spin_per_acceleration(gear, now.speed_mps) * coasting;
}

/// The torque of an engine whose ignition or fuel is cut.
template <std::floating_point T>
struct torque_cut {
  T rpm = 0;
  T driving_nm = 0;  ///< before the cut
  T overrun_nm = 0;  ///< without combustion, negative: friction and pumping
  T latency_s = 0;   ///< from the request to the first stroke that does not fire
};

/// Time from the request of a torque cut until the dogs carry nothing.
///
/// The torque falls evenly over the two revolutions in which every cylinder misses its turn (a simplification of the
/// project's own, no source).
/// @param unloaded_nm  from `unloaded_torque_nm`.
/// Unit:    s.
/// Outside: 0 when the dogs are unloaded already. The wind-up of shafts and tyres is not counted; it adds about a
///          quarter of the period of the driveline's shuffle (common practice, no source).
/// Errors:  NaN when they never are: the overrun torque is not below `unloaded_nm`; or for an engine that stands still.
template <std::floating_point T>
[[nodiscard]] constexpr T unload_time_s(const torque_cut<T>& cut, T unloaded_nm) noexcept {
  if (cut.driving_nm <= unloaded_nm) return T{0};
  if (!(cut.rpm > T{0} && cut.overrun_nm < unloaded_nm)) return std::numeric_limits<T>::quiet_NaN();
  const T two_revolutions_s = T{120} / cut.rpm;
  return cut.latency_s + two_revolutions_s * (cut.driving_nm - unloaded_nm) / (cut.driving_nm - cut.overrun_nm);
}

/// What the driven wheels feel when a gear goes in while the engine's speed does not match.
template <std::floating_point T>
struct engagement {
  T wheel_torque_nm = 0;   ///< mean over the engagement; above 0 it pushes the car
  T speed_change_mps = 0;  ///< of the car
};

/// The jolt when a gear goes in while the engine turns too fast, or for a negative error too slowly.
///
/// @param error_rpm   of the engine, above the speed that matches the gear.
/// @param duration_s  over which clutch or dogs bring the speeds together.
/// Source: conservation of angular momentum between engine and car; the tyres are taken not to slip.
template <std::floating_point T>
[[nodiscard]] constexpr engagement<T> engage(const car<T>& c, const driveline<T>& gear, T error_rpm,
                                             T duration_s) noexcept {
  const T turns = gear.overall_ratio() / gear.wheel_radius_m;
  const T share = driven_mass_kg(c, gear) / equivalent_mass_kg(c, gear);  // the rest the engine keeps
  const T impulse_ns = c.turning.engine_kgm2 * rad_per_s_of(error_rpm) * turns * share;
  return {.wheel_torque_nm = impulse_ns * gear.wheel_radius_m / duration_s,
          .speed_change_mps = impulse_ns / driven_mass_kg(c, gear)};
}

}  // namespace fettle

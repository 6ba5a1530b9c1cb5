// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>
#include <cstdint>
#include <limits>

#include "fettle/map/interpolate.hpp"
#include "fettle/map/view.hpp"
#include "fettle/vehicle/driveline.hpp"

namespace fettle {

/// A free-running engine between two gears: clutch open or dogs out.
template <std::floating_point T>
struct free_engine {
  map_view<2, T> torque_nm{};  ///< brake torque over rpm and throttle in percent; negative on the overrun
  T inertia_kgm2 = 0;          ///< of all that turns with it
  T closed_pct = 0;            ///< throttle at rest
  T actuator_pct_per_s = 0;    ///< how fast the throttle moves
  T delay_rev = 0;             ///< revolutions from a movement of the throttle to its torque
};

/// A throttle movement: open at the actuator's rate, hold, close at the same rate.
template <std::floating_point T>
struct throttle_pulse {
  T peak_pct = 0;
  T duration_s = 0;  ///< from the first movement until the throttle rests again

  /// Throttle at a time, from its resting position at 0 s.
  [[nodiscard]] constexpr T at(T time_s, T closed_pct, T pct_per_s) const noexcept {
    const T to_end = duration_s - time_s, moving_s = time_s < to_end ? time_s : to_end;
    const T reached = closed_pct + (moving_s > T{0} ? moving_s * pct_per_s : T{0});
    return reached < peak_pct ? reached : peak_pct;
  }
};

/// No blip may last longer, the delay of its torque included: 60 s.
template <std::floating_point T>
inline constexpr T longest_blip_s{60};

/// Engine speed when the torque of a throttle pulse has ended.
///
/// Unit:   rpm.
/// Errors: NaN when the engine stalls, for an inertia that is not positive, and where pulse and delay are not over after
///         `longest_blip_s`.
/// Source: I dw/dt = M(n, throttle), the throttle `delay_rev` revolutions ago, by Heun's rule in steps of 1 ms, as
///         any book on numerical analysis has it. That torque lags by revolutions: common practice, no source.
template <std::floating_point T>
[[nodiscard]] constexpr T rpm_after_pulse(const free_engine<T>& engine, T from_rpm,
                                          const throttle_pulse<T>& pulse) noexcept {
  constexpr T nan = std::numeric_limits<T>::quiet_NaN();
  if (!(engine.inertia_kgm2 > T{0} && pulse.duration_s <= longest_blip_s<T>)) return nan;
  const auto slope = [&](T rpm, T time_s) {  // rpm a second
    const T open_s = time_s - engine.delay_rev * T{60} / rpm;
    const T throttle = pulse.at(open_s, engine.closed_pct, engine.actuator_pct_per_s);
    return rpm_of(interpolate(engine.torque_nm, rpm, throttle) / engine.inertia_kgm2);
  };
  const T step_s = static_cast<T>(0.001L);
  T rpm = from_rpm, time_s = 0;
  while (time_s <= longest_blip_s<T>) {
    if (!(rpm > T{0})) return nan;
    const T left_s = pulse.duration_s + engine.delay_rev * T{60} / rpm - time_s;
    if (left_s <= T{0}) return rpm;
    const T h = left_s < step_s ? left_s : step_s, before = slope(rpm, time_s), guess = rpm + h * before;
    if (!(guess > T{0})) return nan;
    rpm += h / T{2} * (before + slope(guess, time_s + h));
    time_s += h;
  }
  return nan;
}

/// What a blip has to do.
template <std::floating_point T>
struct blip_task {
  T from_rpm = 0, to_rpm = 0;
  T wanted_s = 0;    ///< how long the throttle may move
  T longest_s = 0;   ///< the most that it may take when the throttle is limited; `longest_blip_s` at most
  T widest_pct = 0;  ///< the throttle that may not be exceeded, e.g. the guard of a second bank of injectors
};

enum class blip_status : std::uint8_t {
  in_time,
  late,         ///< longer than wanted, at the widest throttle
  unreachable,  ///< not within the longest time
  not_needed,   ///< the engine gets there in the wanted time with the throttle at rest: the pulse is none
  unusable,     ///< speeds, times, throttle or inertia are not positive, a time is above `longest_blip_s`, or the new
                ///< speed is not above the old one
};

/// A throttle pulse that brings a free engine to a speed.
template <std::floating_point T>
struct blip {
  throttle_pulse<T> pulse{};
  T end_rpm = 0;  ///< the engine's speed when the torque of the pulse has ended
  blip_status status = blip_status::unusable;
};

/// Plans a blip: the smallest throttle that reaches the speed in the wanted time, else the shortest time at the widest.
///
/// Outside: the torque map holds its ends.
/// Source:  bisection on `rpm_after_pulse`.
/// Cost:    some 45 runs of `rpm_after_pulse`; for a table made in advance, not for an interrupt.
template <std::floating_point T>
[[nodiscard]] constexpr blip<T> plan_blip(const free_engine<T>& engine, const blip_task<T>& task) noexcept {
  blip<T> result;
  const bool is_sound = task.from_rpm > T{0} && task.to_rpm > task.from_rpm && task.wanted_s > T{0} &&
                        task.longest_s >= task.wanted_s && task.longest_s <= longest_blip_s<T> &&
                        task.widest_pct > engine.closed_pct && engine.inertia_kgm2 > T{0} &&
                        engine.actuator_pct_per_s > T{0} && engine.delay_rev >= T{0};
  if (!is_sound) return result;
  const auto end = [&](T peak_pct, T duration_s) {
    return rpm_after_pulse(engine, task.from_rpm, throttle_pulse<T>{peak_pct, duration_s});
  };
  const auto bisected = [](T low, T high, auto reaches) {
    for (int i = 0; i < 40; ++i) {
      const T middle = low + (high - low) / T{2};
      (reaches(middle) ? high : low) = middle;
    }
    return high;
  };
  const auto is_there = [&](T rpm) { return rpm >= task.to_rpm; };
  result.pulse = {task.widest_pct, task.wanted_s};
  result.status = blip_status::in_time;
  if (is_there(end(engine.closed_pct, task.wanted_s))) {
    result.status = blip_status::not_needed;
    result.pulse = {engine.closed_pct, T{0}};
  } else if (is_there(end(task.widest_pct, task.wanted_s))) {
    result.pulse.peak_pct =
        bisected(engine.closed_pct, task.widest_pct, [&](T peak) { return is_there(end(peak, task.wanted_s)); });
  } else if (is_there(end(task.widest_pct, task.longest_s))) {
    result.status = blip_status::late;
    result.pulse.duration_s =
        bisected(task.wanted_s, task.longest_s, [&](T duration) { return is_there(end(task.widest_pct, duration)); });
  } else {
    result.status = blip_status::unreachable;
    result.pulse.duration_s = task.longest_s;
  }
  result.end_rpm = end(result.pulse.peak_pct, result.pulse.duration_s);
  return result;
}

}  // namespace fettle

// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <concepts>
#include <limits>

#include "fettle/fuel/charge.hpp"
#include "fettle/fuel/mixture.hpp"
#include "fettle/fuel/share_ramp.hpp"
#include "fettle/fuel/staged_film.hpp"

namespace fettle {

/// Everything a controller must know to fuel one cylinder through two banks. Maps are views: they may live in flash.
template <std::floating_point T>
struct fuel_calibration {
  std::array<axis_view<T>, 2> axes{};  ///< speed in rpm, throttle in percent: one search serves the three maps
  const T* air_mg = nullptr;           ///< per cylinder and cycle, at reference air
  const T* lambda = nullptr;
  const T* secondary_share = nullptr;
  const T* throttle_guard_pct = nullptr;  ///< over speed; the second bank is shut below it, a primary at its limit
                                          ///< not relieved. None: no guard
  T fastest_share_per_ms = std::numeric_limits<T>::infinity();  ///< see `fastest_share_per_ms`
  air_state<T> reference{};
  T stoichiometric_afr = 0;
  T largest_duty = 0;
  checked_film<T> primary_film{};
  checked_film<T> secondary_film{};
};

/// The sensors of one cycle.
template <std::floating_point T>
struct engine_readings {
  T speed_rpm = 0;
  T throttle_pct = 0;
  air_state<T> air{};
};

/// Both banks at their present supply: `flow_line_at`, made anew whenever battery and pressure are sampled.
template <std::floating_point T>
struct bank_lines {
  flow_line<T> primary{};
  flow_line<T> secondary{};
};

/// What one cycle injects and what reaches the cylinder.
template <std::floating_point T>
struct fuel_cycle {
  bank_split<T> banks{};
  T wanted_mg = 0;    ///< fuel wanted in the cylinder
  T cylinder_mg = 0;  ///< fuel that reaches it, by the film model
};

namespace detail {

/// Zero where there is no guard.
template <std::floating_point T>
[[nodiscard]] constexpr T throttle_guard_pct(const fuel_calibration<T>& of, const place<T>& speed) noexcept {
  if (of.throttle_guard_pct == nullptr) return T{0};
  return interpolate(map_view<1, T>{.axes = {of.axes[0]}, .values = of.throttle_guard_pct}, std::array{speed});
}

}  // namespace detail

/// One cycle of one cylinder, from sensors to two pulses: alpha-N charge, lambda and share from their maps, the
/// throttle guard, the ramp of the share, the split, and both wall films with their compensation.
///
/// @param state  of this cylinder, moved on by one cycle. A fresh state has dry walls.
/// Outside: maps hold their ends.
/// Errors:  `banks.faults`; a NaN sensor injects nothing, and nothing that it spoils outlives the cycle.
/// Cost:    two searches, four look-ups (the guard's is of rank 1), some ten divisions; no heap.
template <std::floating_point T>
[[nodiscard]] constexpr fuel_cycle<T> run_cycle(const fuel_calibration<T>& calibration,
                                                const engine_readings<T>& readings, const bank_lines<T>& lines,
                                                bank_state<T>& state) noexcept {
  const std::array<place<T>, 2> at{locate(calibration.axes[0], readings.speed_rpm),
                                   locate(calibration.axes[1], readings.throttle_pct)};
  map_view<2, T> map{calibration.axes, calibration.air_mg};
  const T air_mg = interpolate(map, at) * density_ratio(readings.air, calibration.reference);
  map.values = calibration.lambda;
  const T lambda = interpolate(map, at);
  map.values = calibration.secondary_share;
  const T planned_share = interpolate(map, at);
  const T wanted_mg = fuel_for_air(air_mg, lambda, calibration.stoichiometric_afr);

  const bool is_guarded = readings.throttle_pct < detail::throttle_guard_pct(calibration, at[0]);
  const pulse_limits<T> limits{.cycle_ms = cycle_ms(readings.speed_rpm),
                               .largest_duty = calibration.largest_duty,
                               .secondary_stays_shut = is_guarded};
  state.share = ramped_share(planned_share, is_guarded, state.share, calibration.fastest_share_per_ms, limits.cycle_ms);
  fuel_fault faults = fuel_fault::none;
  if (!calibration.primary_film.is_usable() || !calibration.secondary_film.is_usable())
    faults |= fuel_fault::film_unusable;
  const bank_films<T> films{film_over(calibration.primary_film, limits.cycle_ms),
                            film_over(calibration.secondary_film, limits.cycle_ms)};
  fuel_cycle<T> cycle{split_over_films(wanted_mg, state.share, lines.primary, lines.secondary, films, limits, state),
                      wanted_mg};
  cycle.banks.faults |= faults;
  cycle.cylinder_mg = inject(films, cycle.banks, state);
  return cycle;
}

}  // namespace fettle

// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <concepts>
#include <cstddef>
#include <limits>

#include "fettle/fuel/dead_time.hpp"
#include "fettle/fuel/fault.hpp"
#include "fettle/fuel/root.hpp"
#include "fettle/map/interpolate.hpp"

namespace fettle {

/// An injector as its data sheet or flow bench describes it. The maps belong to the caller.
///
/// Source: terms of SAE J1832 "Low Pressure Gasoline Fuel Injector": static flow, and time offset, in the trade's
///         words dead time.
template <std::floating_point T>
struct injector {
  T static_flow_mg_per_ms = 0;  ///< held open, at the reference pressure drop
  T reference_drop_kpa = 0;     ///< fuel pressure less the pressure at the nozzle
  T smallest_open_ms = 0;       ///< the shortest usable time beyond the dead time
  dead_time<T> dead_time_ms{};  ///< a number, a curve over battery voltage, or a map over that and pressure drop
  /// Optional: ms to add to the pulse over open time in ms, for short pulses off the straight line.
  const map_view<1, T>* short_pulse_ms = nullptr;
};

/// What an injector hangs on at the moment.
template <std::floating_point T>
struct injector_supply {
  T battery_v = 0;
  T drop_kpa = 0;  ///< fuel pressure less the pressure at the nozzle: outer injectors spray into the open air
};

/// An injector at one battery voltage and pressure: mass = flow * (pulse - dead time), less the short-pulse addition.
///
/// Source: the straight line is the linear range of SAE J1832; the addition below it, a curve over open time, is common
///         practice, no source.
template <std::floating_point T>
struct flow_line {
  T flow_mg_per_ms = 0;
  T dead_time_ms = 0;
  T smallest_open_ms = 0;
  const map_view<1, T>* short_pulse_ms = nullptr;
  fuel_fault faults = fuel_fault::none;
};

/// Flow of an orifice at one pressure drop relative to its flow at another: the square root of their ratio.
///
/// Errors: NaN for a ratio below zero.
/// Source: Bernoulli's law for an ideal orifice and a liquid of constant density.
template <std::floating_point T>
[[nodiscard]] constexpr T pressure_flow_factor(T drop_kpa, T reference_drop_kpa) noexcept {
  return detail::square_root(drop_kpa / reference_drop_kpa);
}

namespace detail {

/// Open time plus its short-pulse addition, if there is one.
template <std::floating_point T>
[[nodiscard]] constexpr T lengthened(const map_view<1, T>* addition, T open_ms) noexcept {
  return addition == nullptr ? open_ms : open_ms + interpolate(*addition, open_ms);
}

/// The inverse of `lengthened`: a straight line between the lengthened breakpoints.
template <std::floating_point T>
[[nodiscard]] constexpr T shortened(const map_view<1, T>* addition, T long_ms) noexcept {
  if (addition == nullptr) return long_ms;
  const T* open_ms = addition->axes[0].points;
  const T* added_ms = addition->values;
  const std::size_t last = addition->axes[0].size - 1;
  if (!(long_ms > open_ms[0] + added_ms[0])) return long_ms - added_ms[0];
  for (std::size_t i = 0; i < last; ++i) {
    const T below = open_ms[i] + added_ms[i], above = open_ms[i + 1] + added_ms[i + 1];
    if (long_ms <= above) return open_ms[i] + (long_ms - below) / (above - below) * (open_ms[i + 1] - open_ms[i]);
  }
  return long_ms - added_ms[last];
}

/// Can the addition be undone? Only when there is a curve and a longer opening always takes a longer pulse.
template <std::floating_point T>
[[nodiscard]] constexpr bool is_invertible(const map_view<1, T>& addition) noexcept {
  if (addition.values == nullptr || addition.axes[0].points == nullptr || addition.axes[0].size < 2) return false;
  T before = -(std::numeric_limits<T>::min)();
  for (std::size_t i = 0; i < addition.axes[0].size; ++i) {
    const T here = addition.axes[0].points[i] + addition.values[i];
    if (!(before < here && here <= (std::numeric_limits<T>::max)())) return false;
    before = here;
  }
  return true;
}

}  // namespace detail

/// The straight line of an injector at its present supply.
///
/// Outside: beyond the dead-time map its edge is used and `supply_outside_map` is set.
/// Errors:  an unusable injector or supply gives a line that `split` refuses and keeps shut.
/// Cost:    one map look-up, one square root; a pass over the short-pulse curve if there is one.
template <std::floating_point T>
[[nodiscard]] constexpr flow_line<T> flow_line_at(const injector<T>& bank, const injector_supply<T>& supply) noexcept {
  flow_line<T> line{.dead_time_ms = bank.dead_time_ms.at(supply.battery_v, supply.drop_kpa),
                    .smallest_open_ms = bank.smallest_open_ms};
  const bool is_nan = supply.battery_v != supply.battery_v || supply.drop_kpa != supply.drop_kpa;
  if (is_nan) {
    line.faults = fuel_fault::not_a_number;
  } else if (!bank.dead_time_ms.is_within(supply.battery_v, supply.drop_kpa)) {
    line.faults = fuel_fault::supply_outside_map;
  }
  if (line.dead_time_ms != line.dead_time_ms) line.faults |= fuel_fault::injector_unusable;
  const bool has_curve_to_undo = bank.short_pulse_ms == nullptr || detail::is_invertible(*bank.short_pulse_ms);
  if (has_curve_to_undo) line.short_pulse_ms = bank.short_pulse_ms;
  if (!is_nan && bank.reference_drop_kpa > T{0} && supply.drop_kpa > T{0} && has_curve_to_undo)
    line.flow_mg_per_ms = bank.static_flow_mg_per_ms * pressure_flow_factor(supply.drop_kpa, bank.reference_drop_kpa);
  return line;
}

/// The pulse that delivers a mass; no mass takes no pulse.
///
/// Errors: NaN in gives NaN out. Limits are the business of `split`.
template <std::floating_point T>
[[nodiscard]] constexpr T pulse_ms(const flow_line<T>& line, T mass_mg) noexcept {
  if (mass_mg <= T{0}) return T{0};
  return line.dead_time_ms + detail::lengthened(line.short_pulse_ms, mass_mg / line.flow_mg_per_ms);
}

/// The mass that a pulse delivers; a pulse within the dead time delivers none. The inverse of `pulse_ms`.
template <std::floating_point T>
[[nodiscard]] constexpr T mass_mg(const flow_line<T>& line, T pulse_ms) noexcept {
  const T open_ms = detail::shortened(line.short_pulse_ms, pulse_ms - line.dead_time_ms);
  return open_ms <= T{0} ? T{0} : line.flow_mg_per_ms * open_ms;
}

/// A line whose values have been checked once, whenever battery and pressure are sampled, for use in every cycle.
///
/// Errors: a line that is no injector's keeps its bank shut, and `split` says `injector_unusable`.
template <std::floating_point T>
class checked_line {
 public:
  constexpr checked_line() noexcept = default;
  // NOLINTNEXTLINE(google-explicit-constructor): wherever a checked line is wanted, a flow line will do
  constexpr checked_line(const flow_line<T>& line) noexcept
      : line_{line},
        shortest_ms_{line.dead_time_ms + detail::lengthened(line.short_pulse_ms, line.smallest_open_ms)},
        is_usable_{line.flow_mg_per_ms > T{0} && line.flow_mg_per_ms <= (std::numeric_limits<T>::max)() &&
                   line.dead_time_ms >= T{0} && line.smallest_open_ms >= T{0} && shortest_ms_ >= T{0}} {
    if (!is_usable_) line_.faults |= fuel_fault::injector_unusable;
  }

  [[nodiscard]] constexpr const flow_line<T>& line() const noexcept { return line_; }
  [[nodiscard]] constexpr bool is_usable() const noexcept { return is_usable_; }
  [[nodiscard]] constexpr T shortest_ms() const noexcept { return shortest_ms_; }  ///< the smallest usable pulse

 private:
  flow_line<T> line_{.faults = fuel_fault::injector_unusable};
  T shortest_ms_ = 0;
  bool is_usable_ = false;
};

/// Duration of a four-stroke cycle, two revolutions: infinite at standstill.
template <std::floating_point T>
[[nodiscard]] constexpr T cycle_ms(T speed_rpm) noexcept {
  return speed_rpm == T{0} ? std::numeric_limits<T>::infinity() : T{120000} / speed_rpm;
}

/// Share of the cycle during which the injector is driven: the definition of duty.
template <std::floating_point T>
[[nodiscard]] constexpr T duty(T pulse_ms, T cycle_ms) noexcept {
  return pulse_ms / cycle_ms;
}

}  // namespace fettle

// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>
#include <cstdint>

#include "fettle/fuel/injector.hpp"

namespace fettle {

/// What a reading of rail pressure is measured against.
enum class rail_reading : std::uint8_t {
  absolute,      ///< vacuum
  gauge,         ///< the air around the engine
  differential,  ///< the manifold, as behind a regulator that follows it
};

/// Where an injector sprays: into the manifold or port, or into the open air before the intake trumpets.
enum class nozzle_place : std::uint8_t { manifold, ambient };

/// Pressures around an injector. Unit: kPa, absolute except for the rail.
template <std::floating_point T>
struct fuel_pressures {
  T rail_kpa = 0;
  T manifold_kpa = 0;
  T ambient_kpa = 0;
};

/// Pressure drop over a nozzle: absolute rail pressure less the absolute pressure where it sprays.
///
/// Source: what gauge, absolute and differential pressure mean.
template <std::floating_point T>
[[nodiscard]] constexpr T pressure_drop_kpa(rail_reading reading, nozzle_place nozzle,
                                            const fuel_pressures<T>& now) noexcept {
  const bool in_manifold = nozzle == nozzle_place::manifold;
  switch (reading) {
    case rail_reading::absolute:
      return now.rail_kpa - (in_manifold ? now.manifold_kpa : now.ambient_kpa);
    case rail_reading::gauge:  // a manifold that is not asked about may be NaN
      return in_manifold ? now.rail_kpa + now.ambient_kpa - now.manifold_kpa : now.rail_kpa;
    default:
      return in_manifold ? now.rail_kpa : now.rail_kpa + now.manifold_kpa - now.ambient_kpa;
  }
}

/// Does the pressure drop over a nozzle depend on the manifold's pressure?
[[nodiscard]] constexpr bool depends_on_manifold(rail_reading reading, nozzle_place nozzle) noexcept {
  return (reading == rail_reading::differential) != (nozzle == nozzle_place::manifold);
}

/// What turns the logged pulses of a bank into fuel.
template <std::floating_point T>
struct pulsed_bank {
  T flow_mg_per_ms = 0;      ///< of one injector, held open at the reference drop
  T reference_drop_kpa = 0;  ///< 0: the drop is not known and the flow is as at reference
  rail_reading rail = rail_reading::differential;
  nozzle_place nozzle = nozzle_place::manifold;
  T pulses_per_cycle = 1;  ///< each of the logged width, each with its dead time
};

/// The straight line of a bank's injector at the moment.
///
/// Errors: a drop below zero gives a flow of NaN.
template <std::floating_point T>
[[nodiscard]] constexpr flow_line<T> flow_line_at(const pulsed_bank<T>& bank, T dead_time_ms,
                                                  const fuel_pressures<T>& now) noexcept {
  const T factor = bank.reference_drop_kpa > T{0}
                       ? pressure_flow_factor(pressure_drop_kpa(bank.rail, bank.nozzle, now), bank.reference_drop_kpa)
                       : T{1};
  return {.flow_mg_per_ms = bank.flow_mg_per_ms * factor, .dead_time_ms = dead_time_ms};
}

/// Fuel that one injector delivers in a cycle; a pulse within the dead time delivers none.
///
/// Unit:   mg per cylinder and cycle.
/// Errors: NaN for a pulse that is NaN, and for an open injector with a pressure drop below zero.
/// Source: mass = flow * (pulse - dead time), the linear range of SAE J1832; flow by `pressure_flow_factor`.
template <std::floating_point T>
[[nodiscard]] constexpr T delivered_mg(const pulsed_bank<T>& bank, T pulse_ms, T dead_time_ms,
                                       const fuel_pressures<T>& now) noexcept {
  return bank.pulses_per_cycle * mass_mg(flow_line_at(bank, dead_time_ms, now), pulse_ms);
}

}  // namespace fettle

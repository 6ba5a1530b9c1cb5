// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>
#include <cstdint>

#include "fettle/fuel/charge.hpp"
#include "fettle/fuel/detail/power.hpp"
#include "fettle/fuel/mixture.hpp"

namespace fettle {

/// What the cells of a fuel map hold, at lambda 1 and reference air.
enum class map_meaning : std::uint8_t {
  fuel_mg,   ///< fuel per cylinder and cycle
  ve_pct,    ///< volumetric efficiency
  pulse_ms,  ///< open time of the primary injector
};

/// How the air of the moment scales a map: (pressure / reference)^a * (reference / temperature)^b, temperatures absolute.
///
/// Exponents of 1 are the density of an ideal gas. A controller that corrects for less has smaller ones: 0.5 of the
/// temperature stands for an intake charge that warms up on its way (common practice, no source); 0 for no correction,
/// or for one that is logged with the controller's other factors.
template <std::floating_point T>
struct air_law {
  air_state<T> reference{};
  T pressure_exponent = 1;
  T temperature_exponent = 1;
};

/// How much more air there is than at reference, as the law has it.
///
/// Errors: NaN for a pressure not above 0 or a temperature not above absolute zero.
template <std::floating_point T>
[[nodiscard]] constexpr T air_factor(const air_law<T>& law, const air_state<T>& air) noexcept {
  return detail::power(air.pressure_kpa / law.reference.pressure_kpa, law.pressure_exponent) *
         detail::power(detail::kelvin(law.reference) / detail::kelvin(air), law.temperature_exponent);
}

/// What turns a cell of a map into fuel.
template <std::floating_point T>
struct map_basis {
  map_meaning meaning = map_meaning::fuel_mg;
  air_law<T> air{};
  T stoichiometric_afr = 0;  ///< of a `ve_pct` map
  T swept_cm3 = 0;           ///< of one cylinder, of a `ve_pct` map
  T flow_mg_per_ms = 0;      ///< of the primary injector, of a `pulse_ms` map
};

/// What a controller's map asks for at lambda 1 in the conditions of the moment.
///
/// @param cell               the map's value.
/// @param air                of the moment: as drawn in for a map over throttle, in the manifold for speed-density.
/// @param controller_factor  product of the controller's own multipliers (warm-up, its own air correction, a global
///                           factor), 1 when it has none; not its closed loop and not the commanded lambda.
/// Unit:   mg per cylinder and cycle.
/// Errors: NaN as `air_factor`.
template <std::floating_point T>
[[nodiscard]] constexpr T need_mg(const map_basis<T>& basis, T cell, const air_state<T>& air,
                                  T controller_factor) noexcept {
  const T at_reference = basis.meaning == map_meaning::ve_pct
                             ? fuel_for_air(speed_density_mg(cell / T{100}, basis.air.reference, basis.swept_cm3), T{1},
                                            basis.stoichiometric_afr)
                         : basis.meaning == map_meaning::pulse_ms ? cell * basis.flow_mg_per_ms
                                                                  : cell;
  return at_reference * air_factor(basis.air, air) * controller_factor;
}

/// What a controller asks of its injectors: the need, for the lambda it commands, trimmed by its closed loop.
///
/// @param loop_pct  trim of the closed loop, 0 when it is open: +5 adds 5 % of fuel.
/// Source: lambda is inverse to fuel; a trim in percent of the fuel is the fuel trim of SAE J1979 (from memory).
template <std::floating_point T>
[[nodiscard]] constexpr T asked_mg(T need_mg, T target_lambda, T loop_pct) noexcept {
  return need_mg / target_lambda * (T{1} + loop_pct / T{100});
}

}  // namespace fettle

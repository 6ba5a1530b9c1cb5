// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <concepts>
#include <limits>

#include "fettle/map/interpolate.hpp"

namespace fettle {

/// Air at rest: absolute pressure and temperature.
template <std::floating_point T>
struct air_state {
  T pressure_kpa = 0;
  T temperature_degc = 0;
};

namespace detail {

/// Absolute temperature; NaN where no air can be.
template <std::floating_point T>
[[nodiscard]] constexpr T kelvin(const air_state<T>& air) noexcept {
  const T above_zero = air.temperature_degc + static_cast<T>(273.15L);
  if (!(air.pressure_kpa >= T{0} && above_zero > T{0})) return std::numeric_limits<T>::quiet_NaN();
  return above_zero;
}

}  // namespace detail

/// Mass of air in a volume, as an ideal gas with R = 287.05 J/(kg K).
///
/// Unit:   mg per cylinder and cycle when the volume is that of one cylinder, in cm3.
/// Errors: NaN for a negative pressure or a temperature below absolute zero.
/// Source: m = p V / (R T); R = 8.31446 J/(mol K) over 28.9647 g/mol, the dry air of `stoichiometric_afr`: 287.055,
///         which the constant rounds.
template <std::floating_point T>
[[nodiscard]] constexpr T air_mass_mg(const air_state<T>& air, T volume_cm3) noexcept {
  return air.pressure_kpa * volume_cm3 * static_cast<T>(1000.0L / 287.05L) / detail::kelvin(air);
}

/// Air charge by speed-density: what the swept volume would hold at manifold state, times the volumetric efficiency.
///
/// Unit:   mg per cylinder and cycle; cm3 swept per cylinder.
/// Errors: as `air_mass_mg`.
/// Source: the definition of volumetric efficiency, at manifold state: J. B. Heywood, "Internal Combustion Engine
///         Fundamentals", McGraw-Hill 1988, chapter 2 (from memory).
template <std::floating_point T>
[[nodiscard]] constexpr T speed_density_mg(T volumetric_efficiency, const air_state<T>& manifold,
                                           T swept_cm3) noexcept {
  return volumetric_efficiency * air_mass_mg(manifold, swept_cm3);
}

/// How much denser air is than at reference.
///
/// Errors: NaN for a negative pressure or a temperature below absolute zero.
/// Source: ideal gases, (p / T) over (p / T) at reference.
template <std::floating_point T>
[[nodiscard]] constexpr T density_ratio(const air_state<T>& air, const air_state<T>& reference) noexcept {
  return air.pressure_kpa * detail::kelvin(reference) / (reference.pressure_kpa * detail::kelvin(air));
}

/// Air charge by alpha-N: a map of speed and throttle made at reference air, scaled by the density of the air today.
///
/// @param air_map_mg  speed in rpm by throttle in percent, mg per cylinder and cycle.
/// Outside: each axis holds its end.
/// Errors:  NaN in gives NaN out; otherwise as `density_ratio`.
/// Source:  common practice, no source.
template <std::floating_point T>
[[nodiscard]] constexpr T alpha_n_mg(const map_view<2, T>& air_map_mg, T speed_rpm, T throttle_pct,
                                     const air_state<T>& air, const air_state<T>& reference) noexcept {
  return interpolate(air_map_mg, speed_rpm, throttle_pct) * density_ratio(air, reference);
}

}  // namespace fettle

// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>
#include <limits>
#include <optional>

#include "fettle/fuel/composition.hpp"

namespace fettle {

/// Dry exhaust as a gas bench reports it: volume shares in one common unit, all in percent or all as fractions.
template <std::floating_point T>
struct dry_exhaust {
  T carbon_dioxide = 0;
  T carbon_monoxide = 0;
  T oxygen = 0;
  T nitric_oxide = 0;
  T unburned_carbon = 0;  ///< carbon atoms in unburned fuel: 6 times a reading in hexane
};

/// Lambda from the composition of the dry exhaust.
///
/// @param water_gas  constant of the water-gas equilibrium, 3.5 by convention.
/// Errors: nothing when a share is negative or NaN, when there is no carbon in the gas, or none in the fuel, or when the
///         fuel needs no air to burn.
/// Source: J. Brettschneider, "Berechnung des Luftverhaeltnisses lambda von Luft-Kraftstoff-Gemischen und des
///         Einflusses von Messfehlern auf lambda", Bosch Technische Berichte 6 (1979) no. 4, 177-186; the equation as
///         gas-bench literature prints it, without its small term for the water of the intake air.
template <std::floating_point T>
[[nodiscard]] constexpr std::optional<T> lambda_from_exhaust(const dry_exhaust<T>& gas, const fuel<T>& burned,
                                                             T water_gas = static_cast<T>(3.5L)) noexcept {
  const T oxidised_carbon = gas.carbon_dioxide + gas.carbon_monoxide;
  const bool is_gas = gas.carbon_dioxide >= T{0} && gas.carbon_monoxide >= T{0} && gas.oxygen >= T{0} &&
                      gas.nitric_oxide >= T{0} && gas.unburned_carbon >= T{0} && oxidised_carbon > T{0};
  if (!is_gas || !(burned.carbon > T{0}) || !(water_gas > T{0})) return std::nullopt;
  const T quarter_hydrogen = burned.hydrogen / burned.carbon / T{4}, half_oxygen = burned.oxygen / burned.carbon / T{2};
  const T oxygen_needed = T{1} + quarter_hydrogen - half_oxygen;  // per atom of carbon
  if (!(oxygen_needed > T{0} && oxygen_needed <= (std::numeric_limits<T>::max)())) return std::nullopt;
  // K / (K + CO/CO2), written so that a gas without carbon dioxide is no division by zero.
  const T hydrogen_burned = water_gas * gas.carbon_dioxide / (water_gas * gas.carbon_dioxide + gas.carbon_monoxide);
  const T oxygen_present = gas.carbon_dioxide + gas.carbon_monoxide / T{2} + gas.oxygen + gas.nitric_oxide / T{2} +
                           (quarter_hydrogen * hydrogen_burned - half_oxygen) * oxidised_carbon;
  return oxygen_present / (oxygen_needed * (oxidised_carbon + gas.unburned_carbon));
}

}  // namespace fettle

// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>
#include <cstddef>
#include <optional>

namespace fettle {

/// A fuel, or a blend of fuels, by its atoms and its density.
///
/// Unit: atoms per molecule, or in any other common measure: only their ratios matter. kg/m3 at the temperature at
///       which volumes are measured.
template <std::floating_point T>
struct fuel {
  T carbon = 0;
  T hydrogen = 0;
  T oxygen = 0;
  T density_kg_m3 = 0;
};

/// Petrol as the mean formula CH1.87 (handbook practice) at 745 kg/m3, the middle of its range of 720 to 780.
/// Source: U.S. Department of Energy, Alternative Fuels Data Center, "Properties of Fuels" (density).
template <std::floating_point T>
inline constexpr fuel<T> gasoline{T{1}, static_cast<T>(1.87L), T{0}, T{745}};
/// Ethanol C2H5OH and methanol CH3OH, densities at 20 degC from memory of handbook tables; the page named above
/// gives a specific gravity of 0.796 at 60 degF for both.
template <std::floating_point T>
inline constexpr fuel<T> ethanol{T{2}, T{6}, T{1}, T{789}};
template <std::floating_point T>
inline constexpr fuel<T> methanol{T{1}, T{4}, T{1}, T{792}};

/// Mass of the atoms of a fuel: kg per kmol of molecules when the atoms are counted per molecule.
///
/// Source: the conventional atomic weights of IUPAC, to three decimals (from memory).
template <std::floating_point T>
[[nodiscard]] constexpr T molar_mass(const fuel<T>& blend) noexcept {
  return static_cast<T>(12.011L) * blend.carbon + static_cast<T>(1.008L) * blend.hydrogen +
         static_cast<T>(15.999L) * blend.oxygen;
}

/// The air that burns a fuel completely, by mass.
///
/// @param water_kg_per_kg  water in the air, kg per kg of dry air (`humidity_ratio`); the result is then per kg of
///                         fuel in kg of moist air, which is what the engine breathes.
/// Unit:   kg of air per kg of fuel.
/// Errors: NaN for a fuel without atoms.
/// Source: element balance with dry air of 28.9647 kg/kmol and 20.95 % oxygen; regulations and handbooks use values
///         of their quotient that differ by up to 0.2 %.
template <std::floating_point T>
[[nodiscard]] constexpr T stoichiometric_afr(const fuel<T>& blend, T water_kg_per_kg = T{0}) noexcept {
  constexpr T dry_air_per_oxygen = static_cast<T>(28.9647L / 0.2095L);
  const T oxygen_needed = blend.carbon + blend.hydrogen / T{4} - blend.oxygen / T{2};
  return oxygen_needed * dry_air_per_oxygen / molar_mass(blend) * (T{1} + water_kg_per_kg);
}

/// Water carried by air: kg per kg of dry air.
///
/// @param vapour_kpa    partial pressure of the water, relative humidity times saturation pressure.
/// @param pressure_kpa  total pressure.
/// Source: ideal gases, 18.01528 / 28.9647 = 0.62198.
template <std::floating_point T>
[[nodiscard]] constexpr T humidity_ratio(T vapour_kpa, T pressure_kpa) noexcept {
  return static_cast<T>(0.62198L) * vapour_kpa / (pressure_kpa - vapour_kpa);
}

/// An amount of one fuel in a blend: kg or litres, as the blending function says.
template <std::floating_point T>
struct blend_part {
  fuel<T> part;
  T amount = 0;
};

/// A blend of fuels by mass; it is a fuel itself.
///
/// Its density assumes that volumes add; its stoichiometric AFR is the mass-weighted mean of the parts'.
/// Errors: nothing for a negative amount, for no amount at all, or for a part without atoms or density.
/// Source: atoms and masses add; that volumes add is common practice, no source.
template <std::floating_point T, std::size_t N>
[[nodiscard]] constexpr std::optional<fuel<T>> blend_by_mass(const blend_part<T> (&parts)[N]) noexcept {
  fuel<T> sum;
  T mass_kg = 0, volume_m3 = 0;
  for (const auto& [part, amount_kg] : parts) {
    const T kg_per_kmol = molar_mass(part);
    if (!(amount_kg >= T{0} && kg_per_kmol > T{0} && part.density_kg_m3 > T{0})) return std::nullopt;
    const T kmol = amount_kg / kg_per_kmol;
    sum.carbon += kmol * part.carbon;
    sum.hydrogen += kmol * part.hydrogen;
    sum.oxygen += kmol * part.oxygen;
    mass_kg += amount_kg;
    volume_m3 += amount_kg / part.density_kg_m3;
  }
  if (!(mass_kg > T{0})) return std::nullopt;
  sum.density_kg_m3 = mass_kg / volume_m3;
  return sum;
}

/// A blend of fuels by volume, as pumps and labels state it; see `blend_by_mass`.
template <std::floating_point T, std::size_t N>
[[nodiscard]] constexpr std::optional<fuel<T>> blend_by_volume(const blend_part<T> (&parts)[N]) noexcept {
  blend_part<T> by_mass[N];
  for (std::size_t i = 0; i < N; ++i) by_mass[i] = {parts[i].part, parts[i].amount * parts[i].part.density_kg_m3};
  return blend_by_mass(by_mass);
}

}  // namespace fettle

// SPDX-License-Identifier: MIT
#pragma once

#include <cstdint>

namespace fettle {

/// What was wrong or out of reach in one fuelling cycle; several may hold at once. The result is safe in every case:
/// no pulse is longer than the duty limit allows, and a bank that cannot be trusted stays shut.
enum class fuel_fault : std::uint16_t {
  none = 0,
  not_a_number = 1 << 0,  ///< an input is NaN, or a mass infinite: what depends on it stays shut (a NaN share is zero)
  injector_unusable = 1 << 1,   ///< flow not positive, dead time negative or none, or short-pulse curve not
                                ///< invertible: bank shut
  supply_outside_map = 1 << 2,  ///< battery or pressure beyond the dead-time map: its edge is used
  pulse_does_not_fit = 1 << 3,  ///< the smallest pulse of a bank is longer than the duty limit allows: bank shut
  limits_unusable = 1 << 4,     ///< no finite positive cycle time, or a duty limit outside 0 to 1: nothing is injected
  share_clamped = 1 << 5,       ///< share outside 0 to 1: the nearer end is used
  mass_clamped = 1 << 6,        ///< negative mass: none is injected
  shortfall = 1 << 7,           ///< less than asked is delivered
  excess = 1 << 8,              ///< more than asked is delivered: no smaller pulse can be made, or the film gives more
  film_unusable = 1 << 9,       ///< film values out of range: no film is assumed
  factor_unusable = 1 << 10,    ///< a factor on the fuel is negative or not finite: it counts as 1
};

[[nodiscard]] constexpr fuel_fault operator|(fuel_fault a, fuel_fault b) noexcept {
  return static_cast<fuel_fault>(static_cast<std::uint16_t>(a) | static_cast<std::uint16_t>(b));
}
constexpr fuel_fault& operator|=(fuel_fault& a, fuel_fault b) noexcept {
  return a = a | b;
}

/// Does a set of faults hold this one?
[[nodiscard]] constexpr bool has(fuel_fault set, fuel_fault fault) noexcept {
  return (static_cast<std::uint16_t>(set) & static_cast<std::uint16_t>(fault)) != 0;
}

}  // namespace fettle

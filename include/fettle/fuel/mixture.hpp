// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>
#include <cstddef>

namespace fettle {

/// Fuel-air equivalence ratio phi from the air ratio lambda, and back: each is the reciprocal of the other.
///
/// Source: definitions, as in J. B. Heywood, "Internal Combustion Engine Fundamentals", McGraw-Hill 1988, chapter 3
///         (from memory); so are those of lambda and air-fuel ratio below.
template <std::floating_point T>
[[nodiscard]] constexpr T phi_from_lambda(T lambda) noexcept {
  return T{1} / lambda;
}
template <std::floating_point T>
[[nodiscard]] constexpr T lambda_from_phi(T phi) noexcept {
  return T{1} / phi;
}

/// Air-fuel ratio by mass from lambda, and back, for a fuel of this stoichiometric air-fuel ratio.
template <std::floating_point T>
[[nodiscard]] constexpr T afr_from_lambda(T lambda, T stoichiometric_afr) noexcept {
  return lambda * stoichiometric_afr;
}
template <std::floating_point T>
[[nodiscard]] constexpr T lambda_from_afr(T afr, T stoichiometric_afr) noexcept {
  return afr / stoichiometric_afr;
}

/// Fuel that makes a wanted lambda of an air charge. Unit: that of the air.
template <std::floating_point T>
[[nodiscard]] constexpr T fuel_for_air(T air, T lambda, T stoichiometric_afr) noexcept {
  return air / (lambda * stoichiometric_afr);
}

/// Phi of the gas where the exhausts of several cylinders have mixed: the air-weighted mean of their phi.
///
/// Elements are conserved, so fuel and air add; phi is their ratio per unit of air and averages with air, lambda does
/// not. A collector mean hides a lean cylinder (common practice, no source): show the leanest beside it.
/// Errors: NaN when there is no air, or for a NaN of either input.
template <std::floating_point T>
[[nodiscard]] constexpr T collector_phi(const T* air, const T* phi, std::size_t cylinders) noexcept {
  T fuel = 0, total_air = 0;
  for (std::size_t i = 0; i < cylinders; ++i) {
    fuel += air[i] * phi[i];
    total_air += air[i];
  }
  return fuel / total_air;
}

/// Lambda of the mixed gas, from the lambda of each cylinder: the reciprocal of `collector_phi`.
template <std::floating_point T>
[[nodiscard]] constexpr T collector_lambda(const T* air, const T* lambda, std::size_t cylinders) noexcept {
  T fuel = 0, total_air = 0;
  for (std::size_t i = 0; i < cylinders; ++i) {
    fuel += air[i] / lambda[i];
    total_air += air[i];
  }
  return total_air / fuel;
}

}  // namespace fettle

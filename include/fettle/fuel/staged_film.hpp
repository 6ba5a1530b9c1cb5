// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>
#include <type_traits>

#include "fettle/fuel/banks.hpp"
#include "fettle/fuel/film.hpp"

namespace fettle {

/// What one cylinder's two banks carry from cycle to cycle.
template <std::floating_point T>
struct bank_state {
  bank_mode mode = bank_mode::none;
  T primary_film_mg = 0;
  T secondary_film_mg = 0;
  T share = 0;  ///< asked of the second bank, see `ramped_share`
};

/// What one cylinder is to get in a cycle.
template <std::floating_point T>
struct bank_demand {
  T wanted_mg = 0;        ///< in the cylinder
  T secondary_share = 0;  ///< of it by the second bank, 0 to 1
};

/// The films of both banks over one cycle.
template <std::floating_point T>
struct bank_films {
  film_cycle<T> primary{};
  film_cycle<T> secondary{};
};

/// The injected masses of a cycle land on the films of both banks.
///
/// @return what reaches the cylinder; the films of `state` move on by one cycle.
template <std::floating_point T>
constexpr T inject(const bank_films<T>& films, const bank_split<T>& injected, bank_state<T>& state) noexcept {
  const auto first = inject(films.primary, state.primary_film_mg, injected.primary_mg);
  const auto second = inject(films.secondary, state.secondary_film_mg, injected.secondary_mg);
  state.primary_film_mg = first.film_mg;
  state.secondary_film_mg = second.film_mg;
  state.mode = injected.mode;
  return first.cylinder_mg + second.cylinder_mg;
}

/// Shares fuel between the banks so that the cylinder, not the wall, gets the wanted mass while banks come and go.
///
/// What both films give off is taken from the wanted mass, and `split` shares the rest by what reaches the cylinder
/// directly: each bank aims at its share of the mixture, and whichever can makes up for the film of the other.
///
/// @param films      over this cycle, from `film_over`.
/// @param state      of this cylinder; call `inject` with the result to move it on.
/// @return           pulses and injected masses; the shortfall is in fuel in the cylinder, negative (`excess`) when the
///                   films alone give more than is wanted.
/// Errors:           as `split`.
/// Source:           `injection_for`, the inverse of the film's equation, for two films that feed one cylinder.
template <std::floating_point T>
[[nodiscard]] constexpr bank_split<T> split_over_films(const std::type_identity_t<bank_demand<T>>& demand,
                                                       const std::type_identity_t<bank_lines<T>>& lines,
                                                       const bank_films<T>& films, const pulse_limits<T>& limits,
                                                       const bank_state<T>& state) noexcept {
  const T wanted_mg = demand.wanted_mg;
  const T primary_direct = T{1} - films.primary.deposited, secondary_direct = T{1} - films.secondary.deposited;
  const T from_secondary_film_mg = films.secondary.evaporated * state.secondary_film_mg;
  const T from_films_mg = films.primary.evaporated * state.primary_film_mg + from_secondary_film_mg;
  const T direct_mg = wanted_mg - from_films_mg;
  T share = demand.secondary_share;
  if (direct_mg > T{0} && share > T{0} && share <= T{1}) {
    const T secondary_mg = share * wanted_mg - from_secondary_film_mg;
    share = detail::clamped(secondary_mg / direct_mg, T{0}, T{1});
  }
  const T asked_mg = direct_mg < T{0} ? T{0} : direct_mg;  // the films may be enough
  const T pulses = limits.pulses_per_cycle;
  bank_split<T> result = detail::split_weighed(asked_mg, share, {lines.primary, primary_direct * pulses},
                                               {lines.secondary, secondary_direct * pulses}, limits, state.mode);
  result.primary_mg /= primary_direct;
  result.secondary_mg /= secondary_direct;
  if (direct_mg < T{0}) {
    result.shortfall_mg = direct_mg;
    result.faults |= wanted_mg < T{0} ? fuel_fault::mass_clamped | fuel_fault::excess : fuel_fault::excess;
  }
  return result;
}

}  // namespace fettle

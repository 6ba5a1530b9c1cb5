// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>
#include <limits>
#include <type_traits>

#include "fettle/fuel/request.hpp"
#include "fettle/fuel/share_ramp.hpp"
#include "fettle/fuel/staged_film.hpp"

namespace fettle {

/// How two banks deliver what a cylinder is to get.
template <std::floating_point T>
struct delivery_settings {
  T fastest_share_per_ms = std::numeric_limits<T>::infinity();  ///< see `fastest_share_per_ms`
  T largest_duty = 0;                                           ///< 0 to 1
  T pulses_per_cycle = 1;                                       ///< of each bank: 1, or 2 for one in each revolution
  checked_film<T> primary_film{};
  checked_film<T> secondary_film{};
};

/// What one cycle injects and what reaches the cylinder.
template <std::floating_point T>
struct fuel_cycle {
  bank_split<T> banks{};
  T wanted_mg = 0;    ///< fuel wanted in the cylinder, 0 while fuel is cut
  T cylinder_mg = 0;  ///< fuel that reaches it, by the film model
};

namespace detail {

/// A cycle without fuel: both banks shut, and the walls go on giving off what is on them.
template <std::floating_point T>
[[nodiscard]] constexpr fuel_cycle<T> cut_cycle(const bank_films<T>& films, fuel_fault faults,
                                                bank_state<T>& state) noexcept {
  fuel_cycle<T> cycle{.banks = {.faults = faults}};
  cycle.cylinder_mg = inject(films, cycle.banks, state);
  state.share = T{0};  // the second bank comes in anew, by its ramp
  return cycle;
}

template <std::floating_point T>
[[nodiscard]] constexpr fuel_fault film_faults(const checked_film<T>& film) noexcept {
  return film.is_usable() ? fuel_fault::none : fuel_fault::film_unusable;
}

}  // namespace detail

/// Two banks on one cylinder over one cycle: the ramp of the share, the split, and both wall films with their
/// compensation.
///
/// @param state  of this cylinder, moved on by one cycle. A fresh state has dry walls.
/// Errors: `banks.faults`; a wanted mass that is NaN injects nothing, and nothing that it spoils outlives the cycle.
///         Lines or settings that nobody made keep the banks shut and say so.
template <std::floating_point T>
[[nodiscard]] constexpr fuel_cycle<T> deliver(const fuel_request<T>& request, const delivery_settings<T>& how,
                                              const std::type_identity_t<bank_lines<T>>& lines,
                                              bank_state<T>& state) noexcept {
  const bank_films<T> films{film_over(how.primary_film, request.cycle_ms),
                            film_over(how.secondary_film, request.cycle_ms)};
  const fuel_fault faults =
      request.faults | detail::film_faults(how.primary_film) | detail::film_faults(how.secondary_film);
  if (request.fuel_cut) return detail::cut_cycle(films, faults, state);
  const pulse_limits<T> limits{.cycle_ms = request.cycle_ms,
                               .largest_duty = how.largest_duty,
                               .pulses_per_cycle = how.pulses_per_cycle,
                               .secondary_stays_shut = request.secondary_stays_shut};
  state.share = ramped_share(request.secondary_share, request.secondary_stays_shut, state.share,
                             how.fastest_share_per_ms, request.cycle_ms);
  fuel_cycle<T> cycle{split_over_films({request.wanted_mg, state.share}, lines, films, limits, state),
                      request.wanted_mg};
  cycle.banks.faults |= faults;
  cycle.cylinder_mg = inject(films, cycle.banks, state);
  return cycle;
}

/// The first bank alone: an engine that has no other, with the same laws for its pulses.
template <std::floating_point T>
[[nodiscard]] constexpr fuel_cycle<T> deliver(const fuel_request<T>& request, const delivery_settings<T>& how,
                                              const std::type_identity_t<checked_line<T>>& line,
                                              bank_state<T>& state) noexcept {
  fuel_request<T> alone = request;
  alone.secondary_share = T{0};
  alone.secondary_stays_shut = true;
  return deliver(alone, how, bank_lines<T>{line, {}}, state);
}

}  // namespace fettle

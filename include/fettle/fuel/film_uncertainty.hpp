// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>
#include <limits>

#include "fettle/fuel/film.hpp"

namespace fettle {

/// What a bank's film, known only roughly, can do to the mixture of a compensated engine when the bank's share changes.
///
/// Law:    let X and tau be assumed to within a fraction w: assumed = true * (1 +- w), each either way. At a steady
///         wanted mass, with both banks free to follow (`split_over_films` reports no fault and
///         deposited + evaporated <= 1 for the assumed film), let the share change by at most `rate` a millisecond, or
///         by one `step` at once from rest. Then
///             |cylinder / wanted - 1| <= rate * (sum of per_rate_ms of both banks), or
///             |cylinder / wanted - 1| <= step * (sum of per_step of both banks),
///             per_rate_ms = X tau [1/(1-w)^2 - 1],
///             per_step    = X max(min(1/(1-w) - k, 1/(1-w)^2 - 1), 1 - k'/(1+w)) / (1-X) + X w/(1-w),
///         X and tau the assumed ones, k(tau) = (1 - exp(-T/tau)) tau/T in the longest cycle T, and k' = k(tau/(1+w)).
///         Why: a bank whose wanted share reaches the cylinder by its assumed film is off by s * G, s the
///         change of its share per cycle, G(z) = (D'-D)/E' / (1 + p c) + D (1/E'-1/E) / z / ((1 + p T)(1 + p c)),
///         p = 1 - 1/z, D = X k and E the shares of `film_cycle`, ' assumed, T = 1/E - 1, c = (1-D'-E')/E'. Both lags
///         have positive responses of sum 1, so the sum of |G| is at most |D'-D|/E' + D |1/E'-1/E|, and no value of it
///         is above |D'-D|/(1-D') + D |E/E'-1|. D/E = X tau/T, and E/E' lies between 1 and tau'/tau: so the sum is at
///         most |X'tau' - X tau| / T or what is less than X'tau'/T [1/(1-w)^2 - 1], and |E/E'-1| <= w. The first bound
///         is reached when both errors point the same way.
/// Source: this derivation, from the film of `wall_film`; the tests draw films and errors.
template <std::floating_point T>
struct film_uncertainty {
  T per_rate_ms = 0;  ///< times the change of share per millisecond
  T per_step = 0;     ///< times the change of share at once
};

/// @param assumed      film that the compensation works with.
/// @param uncertainty  by what fraction its share and its time may each be off, 0 <= uncertainty < 1.
/// @param cycle_ms     the longest in question.
/// Errors: NaN for an unusable film or fraction; nothing is claimed then.
template <std::floating_point T>
[[nodiscard]] constexpr film_uncertainty<T> film_uncertainty_of(const wall_film<T>& assumed, T uncertainty,
                                                                T cycle_ms) noexcept {
  if (!is_usable(assumed) || !(uncertainty >= T{0} && uncertainty < T{1}) || !(cycle_ms >= T{0})) {
    constexpr T nan = std::numeric_limits<T>::quiet_NaN();
    return {nan, nan};
  }
  const T x = assumed.deposited, tau_ms = assumed.evaporation_ms;
  const T more = T{1} / (T{1} - uncertainty);  // the true value may be this many times as large
  const T growth = more * more - T{1};
  // What is left on the wall of what lands there in a cycle.
  const auto left = [&](T time_ms) {
    return cycle_ms > T{0} ? film_over(wall_film<T>{T{0.5}, time_ms}, cycle_ms).deposited * T{2} : T{1};
  };
  const T less = T{1} / (T{1} + uncertainty);
  const T more_lands = more - left(tau_ms) < growth ? more - left(tau_ms) : growth;
  const T less_lands = T{1} - left(tau_ms * less) * less;
  const T lands = more_lands > less_lands ? more_lands : less_lands;
  return {x * tau_ms * growth, x * (lands / (T{1} - x) + uncertainty * more)};
}

/// How fast fuel may move between the banks so that films known only roughly throw the mixture off by no more than
/// allowed: the largest change of share per millisecond. A change of share by s then takes s over this.
///
/// @param uncertainty  by what fraction the films' shares and times may each be off.
/// @param excursion    of the mixture, allowed, as a fraction.
///
/// A ramp of constant slope is the best: any other of the same length is steeper somewhere. Moves that cannot wait (the
/// throttle guard, relief of a bank at its limit, a first or last smallest pulse) come on top, by `per_step`.
/// Errors: NaN as `film_uncertainty_of`; infinite for films that are known exactly.
template <std::floating_point T>
[[nodiscard]] constexpr T fastest_share_per_ms(const wall_film<T>& primary, const wall_film<T>& secondary,
                                               T uncertainty, T excursion) noexcept {
  const T per_rate_ms = film_uncertainty_of(primary, uncertainty, T{0}).per_rate_ms +
                        film_uncertainty_of(secondary, uncertainty, T{0}).per_rate_ms;
  return per_rate_ms == T{0} ? std::numeric_limits<T>::infinity() : excursion / per_rate_ms;
}

}  // namespace fettle

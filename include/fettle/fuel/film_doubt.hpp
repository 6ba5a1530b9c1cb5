// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>
#include <limits>

#include "fettle/fuel/film.hpp"

namespace fettle {

/// What a bank's film, known only roughly, can do to the mixture of a compensated engine when the bank's share changes.
///
/// Law:    let X and tau be believed to within a fraction w: believed = true * (1 +- w), each either way. At a steady
///         wanted mass, with both banks free to follow (`split_over_films` reports no fault and
///         X + 1 - exp(-cycle/tau) <= 1 for the believed film), let the share change by at most `rate` a millisecond,
///         or by one `step` at once from rest. Then
///             |cylinder / wanted - 1| <= rate * (sum of per_rate_ms of both banks), or
///             |cylinder / wanted - 1| <= step * (sum of per_step of both banks),
///             per_rate_ms = X [(tau + cycle) w/(1-w) + tau w/(1-w)^2],  for short cycles X tau [1/(1-w)^2 - 1],
///             per_step    = X w/(1-w) [1/(1-X) + 1/(1-w)].
///         A bank whose wanted share reaches the cylinder by its believed film is off by s * G, s the change of its
///         share per cycle, G(z) = (D'-D)/E' / (1 + p c) + D (1/E'-1/E) / z / ((1 + p T)(1 + p c)), p = 1 - 1/z,
///         D, E the shares of `film_cycle`, ' believed, T = 1/E - 1, c = (1-D'-E')/E'. Both lags have positive
///         responses of sum 1, so the sum of |G| is at most |D'-D|/E' + D |1/E'-1/E|, and no value of it is above
///         |D'-D|/(1-D') + D |E/E'-1|; w bounds both. When both errors point the same way the first bound is reached.
/// Source: this derivation, from the film of `wall_film`; the tests draw films and errors.
template <std::floating_point T>
struct film_doubt {
  T per_rate_ms = 0;  ///< times the change of share per millisecond
  T per_step = 0;     ///< times the change of share at once
};

/// @param believed    film that the compensation works with.
/// @param wrong       by what fraction its share and its time may each be off, 0 <= wrong < 1.
/// @param cycle_ms    the longest in question.
/// Errors: NaN for an unusable film or fraction; nothing is claimed then.
template <std::floating_point T>
[[nodiscard]] constexpr film_doubt<T> film_doubt_of(const wall_film<T>& believed, T wrong, T cycle_ms) noexcept {
  if (!is_usable(believed) || !(wrong >= T{0} && wrong < T{1}) || !(cycle_ms >= T{0})) {
    constexpr T nan = std::numeric_limits<T>::quiet_NaN();
    return {nan, nan};
  }
  const T x = believed.deposited, tau_ms = believed.evaporation_ms;
  const T off = wrong / (T{1} - wrong), more = T{1} / (T{1} - wrong);  // the true value may be `more` times as large
  return {x * off * (tau_ms + cycle_ms + tau_ms * more), x * off * (T{1} / (T{1} - x) + more)};
}

/// How fast fuel may move between the banks so that films known only roughly throw the mixture off by no more than
/// allowed: the largest change of share per millisecond. A change of share by s then takes s over this.
///
/// @param wrong      by what fraction the films' shares and times may each be off.
/// @param excursion  of the mixture, allowed, as a fraction.
///
/// A ramp of constant slope is the best: any other of the same length is steeper somewhere. Moves that cannot wait (the
/// throttle guard, relief of a bank at its limit, a first or last smallest pulse) come on top, by `per_step`.
/// Errors: NaN as `film_doubt_of`; infinite for films that are known exactly.
template <std::floating_point T>
[[nodiscard]] constexpr T fastest_share_per_ms(const wall_film<T>& primary, const wall_film<T>& secondary, T wrong,
                                               T cycle_ms, T excursion) noexcept {
  const T doubt_ms =
      film_doubt_of(primary, wrong, cycle_ms).per_rate_ms + film_doubt_of(secondary, wrong, cycle_ms).per_rate_ms;
  return doubt_ms == T{0} ? std::numeric_limits<T>::infinity() : excursion / doubt_ms;
}

}  // namespace fettle

// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>
#include <limits>

namespace fettle {

/// The fuel film that one bank of injectors keeps on the walls of its port.
///
/// Source: C. F. Aquino, "Transient A/F control characteristics of the 5 liter central fuel injection engine", SAE
///         810494 (1981). No published values for injectors outside the trumpets were found: measure them.
template <std::floating_point T>
struct wall_film {
  T deposited = 0;       ///< X: share of the injected fuel that lands on the wall, 0 <= X < 1
  T evaporation_ms = 0;  ///< tau: time constant in which the film leaves, finite, >= 0
};

/// What happens to a film within one cycle, as shares.
template <std::floating_point T>
struct film_cycle {
  T deposited = 0;   ///< of the fuel injected, still on the wall when the cycle ends, < 1
  T evaporated = 1;  ///< of the film that was there when the cycle began
};

template <std::floating_point T>
[[nodiscard]] constexpr bool is_usable(const wall_film<T>& film) noexcept {
  return film.deposited >= T{0} && film.deposited < T{1} && film.evaporation_ms >= T{0} &&
         film.evaporation_ms <= (std::numeric_limits<T>::max)();
}

/// A film whose values have been checked once, for use in every cycle: it holds 1 / tau, so that a cycle divides less.
///
/// Errors: an unusable film is none, all fuel reaches the cylinder at once, and `is_usable` says so.
template <std::floating_point T>
class checked_film {
 public:
  constexpr checked_film() noexcept = default;
  // NOLINTNEXTLINE(google-explicit-constructor): wherever a checked film is wanted, a wall film will do
  constexpr checked_film(const wall_film<T>& film) noexcept : is_usable_{fettle::is_usable(film)} {
    if (!is_usable_ || !(film.evaporation_ms >= (std::numeric_limits<T>::min)())) return;  // through at once
    deposited_ = film.deposited;
    per_ms_ = T{1} / film.evaporation_ms;
  }

  [[nodiscard]] constexpr bool is_usable() const noexcept { return is_usable_; }
  [[nodiscard]] constexpr T deposited() const noexcept { return deposited_; }  ///< X, 0 for no film
  [[nodiscard]] constexpr T per_ms() const noexcept { return per_ms_; }        ///< 1 / tau

 private:
  T deposited_ = 0, per_ms_ = 1;
  bool is_usable_ = true;
};

/// What one cycle gives the cylinder and leaves on the wall.
template <std::floating_point T>
struct film_step {
  T cylinder_mg = 0;
  T film_mg = 0;
};

namespace detail {

/// How an exponential decay goes over a time x > 0 of its time constants, without losing the digits of a small x.
template <std::floating_point T>
struct decay {
  T gone = 0;  ///< 1 - exp(-x)
  T mean = 1;  ///< of exp(-u) over u = 0 .. x
};

/// Cost: halve until x <= 1/8, a few terms of the series, double back by 1 - (1-u)^2 = u (2 - u). Written out because
///       the exponential of a microcontroller's library works in double precision, and for constant expressions.
template <std::floating_point T>
[[nodiscard]] constexpr decay<T> decay_over(T x) noexcept {
  if (x >= T{64}) return {T{1}, T{1} / x};  // exp(-64) is below half a unit of double precision
  int doublings = 0;
  for (; x > T{1} / T{8}; ++doublings) x *= T{0.5};
  T tail = T{1};
  if constexpr (std::numeric_limits<T>::digits > 24) {
    for (int k = 13; k > 6; --k) tail = T{1} - x / static_cast<T>(k) * tail;
  }
  tail = T{1} - x * (T{1} / T{6}) * tail;
  tail = T{1} - x * (T{1} / T{5}) * tail;
  tail = T{1} - x * (T{1} / T{4}) * tail;
  tail = T{1} - x * (T{1} / T{3}) * tail;
  tail = T{1} - x * (T{1} / T{2}) * tail;
  decay<T> result{x * tail, tail};
  for (; doublings > 0; --doublings) {
    result.mean *= T{1} - T{0.5} * result.gone;
    result.gone *= T{2} - result.gone;
  }
  return result;
}

}  // namespace detail

/// The shares of one cycle of this duration, when the injected fuel lands evenly over the cycle and leaves the wall all
/// the while: the exact step of dm/dt = X q - m/tau for a constant flow q, as the logs are read and the virtual engine
/// is driven by. Of what lands, X (1 - exp(-T/tau)) tau/T is still there at the end of the cycle T.
///
/// Every usable film can be compensated: with these shares evaporated < 2 (1 - deposited) for all X < 1, because
/// tanh(x/2) < x/2, so that the injections of `injection_for` settle.
///
/// Errors: an unusable film is none, all fuel reaches the cylinder at once (deposited 0, evaporated 1); in a cycle that
///         is not finite and positive nothing evaporates.
template <std::floating_point T>
[[nodiscard]] constexpr film_cycle<T> film_over(const checked_film<T>& film, T cycle_ms) noexcept {
  if (!(cycle_ms > T{0} && cycle_ms <= (std::numeric_limits<T>::max)())) return {film.deposited(), T{0}};
  if (film.deposited() == T{0}) return {T{0}, T{1}};
  const auto over = detail::decay_over(cycle_ms * film.per_ms());
  return {film.deposited() * over.mean, over.gone};
}

template <std::floating_point T>
[[nodiscard]] constexpr film_cycle<T> film_over(const wall_film<T>& film, T cycle_ms) noexcept {
  return film_over(checked_film<T>{film}, cycle_ms);
}

/// One injection onto a film: part reaches the cylinder directly, with what the film gives off.
///
/// Conserves mass: film + injected = cylinder + film afterwards.
template <std::floating_point T>
[[nodiscard]] constexpr film_step<T> inject(const film_cycle<T>& cycle, T film_mg, T injected_mg) noexcept {
  const T evaporated_mg = cycle.evaporated * film_mg, deposited_mg = cycle.deposited * injected_mg;
  return {(injected_mg - deposited_mg) + evaporated_mg, (film_mg - evaporated_mg) + deposited_mg};
}

/// What to inject so that the cylinder gets the wanted mass in spite of the film: the inverse of `inject`.
///
/// Outside: zero when the film alone gives more than is wanted.
template <std::floating_point T>
[[nodiscard]] constexpr T injection_for(const film_cycle<T>& cycle, T film_mg, T wanted_mg) noexcept {
  const T direct_mg = wanted_mg - cycle.evaporated * film_mg;
  return direct_mg <= T{0} ? T{0} : direct_mg / (T{1} - cycle.deposited);
}

/// The film that a steady injection builds up.
///
/// Errors: infinite when something lands on the wall and nothing evaporates.
template <std::floating_point T>
[[nodiscard]] constexpr T steady_film_mg(const film_cycle<T>& cycle, T injected_mg) noexcept {
  const T deposited_mg = cycle.deposited * injected_mg;
  return deposited_mg == T{0} ? T{0} : deposited_mg / cycle.evaporated;
}

}  // namespace fettle

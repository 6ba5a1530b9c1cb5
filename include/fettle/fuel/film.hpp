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
  T deposited = 0;   ///< of the fuel injected, < 1
  T evaporated = 1;  ///< of the film found at the start
};

/// What one cycle gives the cylinder and leaves on the wall.
template <std::floating_point T>
struct film_step {
  T cylinder_mg = 0;
  T film_mg = 0;
};

template <std::floating_point T>
[[nodiscard]] constexpr bool is_usable(const wall_film<T>& film) noexcept {
  return film.deposited >= T{0} && film.deposited < T{1} && film.evaporation_ms >= T{0} &&
         film.evaporation_ms <= (std::numeric_limits<T>::max)();
}

namespace detail {

/// 1 - exp(-x) for x >= 0, without losing the digits of a small x.
///
/// Cost: halve until x <= 1/8, a few terms of the series, double back by 1 - (1-u)^2 = u (2 - u). Written out because
///       the exponential of a microcontroller's library works in double precision, and for constant expressions.
template <std::floating_point T>
[[nodiscard]] constexpr T one_minus_exp(T x) noexcept {
  if (x >= T{64}) return T{1};  // exp(-64) is below half a unit of double precision
  int doublings = 0;
  for (; x > T{1} / T{8}; ++doublings) x /= T{2};
  T tail = T{1};
  if constexpr (std::numeric_limits<T>::digits > 24) {
    for (int k = 13; k > 6; --k) tail = T{1} - x / static_cast<T>(k) * tail;
  }
  tail = T{1} - x * (T{1} / T{6}) * tail;
  tail = T{1} - x * (T{1} / T{5}) * tail;
  tail = T{1} - x * (T{1} / T{4}) * tail;
  tail = T{1} - x * (T{1} / T{3}) * tail;
  tail = T{1} - x * (T{1} / T{2}) * tail;
  T result = x * tail;
  for (; doublings > 0; --doublings) result *= T{2} - result;
  return result;
}

}  // namespace detail

/// The shares of one cycle of this duration: the exact step 1 - exp(-t/tau), not its Euler form.
///
/// Errors: an unusable film is none, all fuel reaches the cylinder at once (deposited 0, evaporated 1); in a cycle that
///         is not finite and positive nothing evaporates.
template <std::floating_point T>
[[nodiscard]] constexpr film_cycle<T> film_over(const wall_film<T>& film, T cycle_ms) noexcept {
  if (!is_usable(film)) return {};
  if (!(cycle_ms > T{0} && cycle_ms <= (std::numeric_limits<T>::max)())) return {film.deposited, T{0}};
  if (film.evaporation_ms == T{0}) return {film.deposited, T{1}};
  return {film.deposited, detail::one_minus_exp(cycle_ms / film.evaporation_ms)};
}

/// One injection onto a film: part reaches the cylinder directly, with what the film gives off.
///
/// Conserves mass: film + injected = cylinder + film afterwards. Fuel that lands in this cycle begins to evaporate in
/// the next.
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

/// Does `injection_for` settle? Cycle by cycle it multiplies the film's distance from steady state by
/// 1 - evaporated / (1 - deposited). A film that takes much and gives it back within a cycle makes that less than -1:
/// the injections swing ever wider. Such a film needs no compensation, it is through with each cycle.
template <std::floating_point T>
[[nodiscard]] constexpr bool is_compensable(const film_cycle<T>& cycle) noexcept {
  return cycle.evaporated < T{2} * (T{1} - cycle.deposited);
}

/// The film that a steady injection builds up.
///
/// Errors: infinite when nothing evaporates.
template <std::floating_point T>
[[nodiscard]] constexpr T steady_film_mg(const film_cycle<T>& cycle, T injected_mg) noexcept {
  return cycle.deposited * injected_mg / cycle.evaporated;
}

}  // namespace fettle

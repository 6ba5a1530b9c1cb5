// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>
#include <limits>

#include "fettle/fuel/bank_mode.hpp"
#include "fettle/fuel/injector.hpp"

namespace fettle::detail {

/// A bank in a cycle: what one of its pulses delivers counts `weight` times, for several pulses, or for what misses the
/// wall.
template <std::floating_point T>
struct weighed_bank {
  const checked_line<T>& bank;
  T weight;
};

/// The masses a bank can deliver other than none, and the pulses at both ends.
template <std::floating_point T>
struct bank_range {
  bool possible = false;
  T low_mg = 0, high_mg = 0;
  T low_ms = 0, high_ms = 0;
  T flow_mg_per_ms = 0;  ///< as it counts
};

template <std::floating_point T>
[[nodiscard]] constexpr T clamped(T x, T low, T high) noexcept {
  const T raised = x < low ? low : x;
  return raised > high ? high : raised;
}

template <std::floating_point T>
[[nodiscard]] constexpr T distance(T a, T b) noexcept {
  return a < b ? b - a : a - b;
}

template <std::floating_point T>
[[nodiscard]] constexpr bool is_finite_from_zero(T x) noexcept {
  return x >= T{0} && x <= (std::numeric_limits<T>::max)();
}

template <std::floating_point T>
[[nodiscard]] constexpr bank_range<T> range_of(const weighed_bank<T>& of_cycle, T longest_ms,
                                               fuel_fault& faults) noexcept {
  const flow_line<T>& line = of_cycle.bank.line();
  const T low_ms = of_cycle.bank.shortest_ms(), flow = line.flow_mg_per_ms * of_cycle.weight;
  faults |= line.faults;
  if (!of_cycle.bank.is_usable()) return {};
  if (low_ms > longest_ms) {
    faults |= fuel_fault::pulse_does_not_fit;
    return {};
  }
  const T low_mg = flow * line.smallest_open_ms;
  const T high_mg = flow * shortened(line.short_pulse_ms, longest_ms - line.dead_time_ms);
  if (!(high_mg <= (std::numeric_limits<T>::max)())) {
    faults |= fuel_fault::injector_unusable;
    return {};
  }
  return {true, low_mg, high_mg < low_mg ? low_mg : high_mg, low_ms, longest_ms, flow};
}

/// The best that one mode can do for a mass and a share.
template <std::floating_point T>
struct bank_option {
  bool possible = false;
  T low_mg = 0, high_mg = 0;  ///< masses of the mode
  T total_mg = 0, secondary_mg = 0;
  T mass_error = 0, share_error = 0;

  [[nodiscard]] constexpr bool is_better_than(const bank_option& other) const noexcept {
    if (!possible || !other.possible) return possible && !other.possible;
    return mass_error != other.mass_error ? mass_error < other.mass_error : share_error < other.share_error;
  }
};

template <std::floating_point T>
[[nodiscard]] constexpr bank_option<T> option_of(bank_mode mode, T mass_mg, T share, const bank_range<T>& primary,
                                                 const bank_range<T>& secondary) noexcept {
  bank_option<T> option{.possible = true};
  if (mode == bank_mode::primary || mode == bank_mode::both) {
    option.possible = primary.possible;
    option.low_mg = primary.low_mg;
    option.high_mg = primary.high_mg;
  }
  if (mode == bank_mode::secondary || mode == bank_mode::both) {
    option.possible = option.possible && secondary.possible;
    option.low_mg += secondary.low_mg;
    option.high_mg += secondary.high_mg;
  }
  option.total_mg = clamped(mass_mg, option.low_mg, option.high_mg);
  const T wanted_mg = share * option.total_mg;
  if (mode == bank_mode::secondary) option.secondary_mg = option.total_mg;
  if (mode == bank_mode::both) {
    const T least = option.total_mg - primary.high_mg, most = option.total_mg - primary.low_mg;
    option.secondary_mg = clamped(wanted_mg, least > secondary.low_mg ? least : secondary.low_mg,
                                  most < secondary.high_mg ? most : secondary.high_mg);
  }
  option.mass_error = distance(option.total_mg, mass_mg);
  option.share_error = distance(option.secondary_mg, wanted_mg);
  return option;
}

/// Is the gain worth changing what the banks do? A mass that can be met exactly is; otherwise the gain must exceed the
/// hysteresis, and the mass must lie inside the new mode by as much, or noise would bring the old one back.
template <std::floating_point T>
[[nodiscard]] constexpr bool is_worth_changing(const bank_option<T>& current, const bank_option<T>& best, T mass_mg,
                                               T hysteresis) noexcept {
  if (!current.possible) return true;
  if (current.mass_error > best.mass_error) {
    return best.mass_error == T{0} ||
           current.mass_error - best.mass_error > hysteresis * distance(current.total_mg, best.total_mg);
  }
  return mass_mg >= best.low_mg * (T{1} + hysteresis) && mass_mg <= best.high_mg * (T{1} - hysteresis) &&
         current.share_error - best.share_error > hysteresis * distance(current.secondary_mg, best.secondary_mg);
}

/// Masses that the banks are to deliver.
template <std::floating_point T>
struct bank_masses {
  T total_mg, secondary_mg;
};

template <std::floating_point T>
[[nodiscard]] constexpr bank_masses<T> choose(T mass_mg, T share, const bank_range<T>& primary,
                                              const bank_range<T>& secondary, T hysteresis, bank_mode& mode) noexcept {
  // A share of zero keeps the secondary shut below the primary's smallest pulse: alone it only relieves the primary.
  const T relief_mg = primary.high_mg * (mode == bank_mode::secondary ? T{1} - hysteresis : T{1});
  const auto option = [&](bank_mode which) {
    auto result = option_of(which, mass_mg, share, primary, secondary);
    if (which == bank_mode::secondary && !(share > T{0} || mass_mg > relief_mg)) result.possible = false;
    return result;
  };
  const auto current = option(mode);
  auto best = current;
  bank_mode best_mode = mode;
  for (const bank_mode other : {bank_mode::primary, bank_mode::both, bank_mode::secondary, bank_mode::none}) {
    if (other == mode) continue;
    const auto candidate = option(other);
    if (!candidate.is_better_than(best)) continue;
    best = candidate;
    best_mode = other;
  }
  if (!is_worth_changing(current, best, mass_mg, hysteresis)) return {current.total_mg, current.secondary_mg};
  mode = best_mode;
  return {best.total_mg, best.secondary_mg};
}

/// Can the banks in use give the mass at exactly the wanted share? Then nothing can be better: the usual cycle.
template <std::floating_point T>
[[nodiscard]] constexpr bool is_exact(T mass_mg, T secondary_mg, const bank_range<T>& primary,
                                      const bank_range<T>& secondary, bank_mode mode) noexcept {
  const T primary_mg = mass_mg - secondary_mg;
  const bool primary_can = primary.possible && primary_mg >= primary.low_mg && primary_mg <= primary.high_mg;
  if (mode == bank_mode::primary) return primary_can && secondary_mg == T{0};
  return mode == bank_mode::both && primary_can && secondary.possible && secondary_mg >= secondary.low_mg &&
         secondary_mg <= secondary.high_mg;
}

template <std::floating_point T>
[[nodiscard]] constexpr T bank_pulse_ms(const flow_line<T>& line, const bank_range<T>& range, T mass_mg) noexcept {
  const T pulse_ms = line.dead_time_ms + lengthened(line.short_pulse_ms, mass_mg / range.flow_mg_per_ms);
  return clamped(pulse_ms, range.low_ms, range.high_ms);  // only rounding is ever clamped here
}

}  // namespace fettle::detail

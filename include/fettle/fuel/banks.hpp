// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>
#include <cstdint>
#include <limits>

#include "fettle/fuel/injector.hpp"

namespace fettle {

/// Which banks inject.
enum class bank_mode : std::uint8_t { none, primary, both, secondary };

/// What bounds every pulse of a cycle.
template <std::floating_point T>
struct pulse_limits {
  T cycle_ms = 0;
  T largest_duty = 0;                     ///< 0 to 1
  T hysteresis = static_cast<T>(0.125L);  ///< width of the band in which banks stay as they are, relative to the step
  bool secondary_stays_shut = false;      ///< whatever the share and the primary's limit ask of it
};

/// One cycle of two banks.
template <std::floating_point T>
struct bank_split {
  T primary_ms = 0;
  T secondary_ms = 0;
  T primary_mg = 0;
  T secondary_mg = 0;
  T shortfall_mg = 0;  ///< asked less delivered; negative when no smaller pulse can be made
  bank_mode mode = bank_mode::none;
  fuel_fault faults = fuel_fault::none;
};

namespace detail {

/// The masses a bank can deliver other than none, and the pulses at both ends.
template <std::floating_point T>
struct bank_range {
  bool possible = false;
  T low_mg = 0, high_mg = 0;
  T low_ms = 0, high_ms = 0;
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
[[nodiscard]] constexpr bank_range<T> range_of(const flow_line<T>& line, T longest_ms, fuel_fault& faults) noexcept {
  faults |= line.faults;
  const T low_ms = line.dead_time_ms + lengthened(line.short_pulse_ms, line.smallest_open_ms);
  const T low_mg = line.flow_mg_per_ms * line.smallest_open_ms, high_mg = mass_mg(line, longest_ms);
  // Written so that NaN and infinities fail, in as few comparisons as will do: this runs twice a cycle.
  const bool is_usable = line.flow_mg_per_ms > T{0} && line.dead_time_ms >= T{0} && line.smallest_open_ms >= T{0} &&
                         low_ms >= T{0} && high_mg <= (std::numeric_limits<T>::max)();
  if (!is_usable) {
    faults |= fuel_fault::injector_unusable;
    return {};
  }
  if (low_ms > longest_ms) {
    faults |= fuel_fault::pulse_does_not_fit;
    return {};
  }
  return {true, low_mg, high_mg < low_mg ? low_mg : high_mg, low_ms, longest_ms};
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
  const auto option = [&](bank_mode of) {
    auto result = option_of(of, mass_mg, share, primary, secondary);
    if (of == bank_mode::secondary && !(share > T{0} || mass_mg > relief_mg)) result.possible = false;
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
[[nodiscard]] constexpr T bank_pulse_ms(const flow_line<T>& line, const bank_range<T>& range, T mass) noexcept {
  return clamped(pulse_ms(line, mass), range.low_ms, range.high_ms);  // only rounding is ever clamped here
}

}  // namespace detail

/// Shares a mass of fuel between two banks of injectors. Each bank has drives of its own: two banks of five need ten
/// (common practice, no source).
///
/// @param mass_mg          asked per cylinder and cycle.
/// @param secondary_share  wanted share of the secondary bank, 0 to 1.
/// @param before           what the banks did in the cycle before: `bank_split::mode` of the last result.
///
/// Laws:    The delivered mass is the asked one whenever two possible pulses add up to it, else the nearest possible
///          (to within the hysteresis).
///          A pulse is zero or at least the smallest usable one. No duty exceeds its limit; the other bank takes over,
///          and what both cannot give is the shortfall. Within these, the share is as near as possible to the wanted
///          one; a secondary asked for less than its smallest pulse is on from about half of it. While the banks in use
///          stay the same the pulses are continuous in mass and share; they change only for a gain beyond the
///          hysteresis, or when the mass cannot be met otherwise. With a share of zero the secondary never serves
///          masses below the primary's smallest pulse; any share above it lets it, so where that is unwanted the
///          share must be zero, not small.
/// Errors:  see `fuel_fault`; a mass that is NaN or infinite injects nothing, a NaN share counts as zero.
/// Cost:    two divisions and some thirty comparisons; about twice that when the banks in use may have to change.
template <std::floating_point T>
[[nodiscard]] constexpr bank_split<T> split(T mass_mg, T secondary_share, const flow_line<T>& primary,
                                            const flow_line<T>& secondary, const pulse_limits<T>& limits,
                                            bank_mode before) noexcept {
  bank_split<T> result;
  const bool has_mass = mass_mg <= (std::numeric_limits<T>::max)();
  if (!has_mass || secondary_share != secondary_share) result.faults |= fuel_fault::not_a_number;
  if (secondary_share < T{0} || secondary_share > T{1}) result.faults |= fuel_fault::share_clamped;
  if (mass_mg < T{0}) result.faults |= fuel_fault::mass_clamped;
  const T share = secondary_share > T{0} ? (secondary_share > T{1} ? T{1} : secondary_share) : T{0};

  const T longest_ms = limits.cycle_ms * limits.largest_duty;
  const bool has_limits = limits.cycle_ms > T{0} && detail::is_finite_from_zero(longest_ms) &&
                          limits.largest_duty >= T{0} && limits.largest_duty <= T{1};
  if (!has_limits) result.faults |= fuel_fault::limits_unusable;
  const T asked_mg = has_mass && mass_mg > T{0} ? mass_mg : T{0};
  if (!has_limits || asked_mg == T{0}) {
    result.shortfall_mg = asked_mg;
    if (asked_mg > T{0}) result.faults |= fuel_fault::shortfall;
    return result;
  }

  const auto first = detail::range_of(primary, longest_ms, result.faults);
  const auto second =
      limits.secondary_stays_shut ? detail::bank_range<T>{} : detail::range_of(secondary, longest_ms, result.faults);

  result.mode = before;
  detail::bank_masses<T> masses{asked_mg, share * asked_mg};
  if (!detail::is_exact(asked_mg, masses.secondary_mg, first, second, before)) {
    const T most_mg = first.high_mg + second.high_mg;
    const T reachable_mg = asked_mg > most_mg ? most_mg : asked_mg;
    masses = detail::choose(reachable_mg, share, first, second, limits.hysteresis, result.mode);
  }
  if (result.mode == bank_mode::primary || result.mode == bank_mode::both) {
    result.primary_mg = masses.total_mg - masses.secondary_mg;
    result.primary_ms = detail::bank_pulse_ms(primary, first, result.primary_mg);
  }
  if (result.mode == bank_mode::secondary || result.mode == bank_mode::both) {
    result.secondary_mg = masses.secondary_mg;
    result.secondary_ms = detail::bank_pulse_ms(secondary, second, result.secondary_mg);
  }
  result.shortfall_mg = asked_mg - masses.total_mg;
  if (result.shortfall_mg > T{0}) result.faults |= fuel_fault::shortfall;
  if (result.shortfall_mg < T{0}) result.faults |= fuel_fault::excess;
  return result;
}

}  // namespace fettle

// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>
#include <limits>
#include <type_traits>

#include "fettle/fuel/bank_mode.hpp"
#include "fettle/fuel/detail/bank_choice.hpp"
#include "fettle/fuel/injector.hpp"

namespace fettle {

/// What bounds every pulse of a cycle.
template <std::floating_point T>
struct pulse_limits {
  T cycle_ms = 0;
  T largest_duty = 0;                     ///< 0 to 1
  T pulses_per_cycle = 1;                 ///< equal ones, each with a dead time and its part of the cycle
  T hysteresis = static_cast<T>(0.125L);  ///< width of the band in which banks stay as they are, relative to the step
  bool secondary_stays_shut = false;      ///< whatever the share and the primary's limit ask of it
};

/// Both banks at their present supply: `flow_line_at`, made anew whenever battery and pressure are sampled.
template <std::floating_point T>
struct bank_lines {
  checked_line<T> primary{};
  checked_line<T> secondary{};
};

/// One cycle of two banks.
template <std::floating_point T>
struct bank_split {
  T primary_ms = 0;  ///< each pulse
  T secondary_ms = 0;
  T primary_mg = 0;  ///< of all pulses of the cycle
  T secondary_mg = 0;
  T shortfall_mg = 0;  ///< asked less delivered; negative when no smaller pulse can be made
  bank_mode mode = bank_mode::none;
  fuel_fault faults = fuel_fault::none;
};

namespace detail {

template <std::floating_point T>
[[nodiscard]] constexpr bool are_usable(const pulse_limits<T>& limits) noexcept {
  return limits.cycle_ms > T{0} && limits.cycle_ms <= (std::numeric_limits<T>::max)() && limits.largest_duty >= T{0} &&
         limits.largest_duty <= T{1} && limits.pulses_per_cycle >= T{1};
}

/// `split` for banks whose pulses count by a weight each.
template <std::floating_point T>
[[nodiscard]] constexpr bank_split<T> split_weighed(T mass_mg, T secondary_share, const weighed_bank<T>& primary,
                                                    const weighed_bank<T>& secondary, const pulse_limits<T>& limits,
                                                    bank_mode before) noexcept {
  bank_split<T> result;
  T share = secondary_share;
  if (!(share >= T{0} && share <= T{1})) [[unlikely]] {
    result.faults |= share != share ? fuel_fault::not_a_number : fuel_fault::share_clamped;
    share = share > T{1} ? T{1} : T{0};
  }
  const bool has_limits = are_usable(limits);
  if (!has_limits) result.faults |= fuel_fault::limits_unusable;
  if (!(mass_mg > T{0} && mass_mg <= (std::numeric_limits<T>::max)()) || !has_limits) [[unlikely]] {
    if (!(mass_mg <= (std::numeric_limits<T>::max)())) {
      result.faults |= fuel_fault::not_a_number;
    } else if (mass_mg < T{0}) {
      result.faults |= fuel_fault::mass_clamped;
    } else if (mass_mg > T{0}) {
      result.faults |= fuel_fault::shortfall;
      result.shortfall_mg = mass_mg;
    }
    return result;
  }
  T longest_ms = limits.cycle_ms * limits.largest_duty;
  if (limits.pulses_per_cycle != T{1}) longest_ms /= limits.pulses_per_cycle;
  const auto first = range_of(primary, longest_ms, result.faults);
  const auto second = limits.secondary_stays_shut ? bank_range<T>{} : range_of(secondary, longest_ms, result.faults);
  result.mode = before;
  bank_masses<T> masses{mass_mg, share * mass_mg};
  if (!is_exact(mass_mg, masses.secondary_mg, first, second, before)) {
    const T most_mg = first.high_mg + second.high_mg;
    const T reachable_mg = mass_mg > most_mg ? most_mg : mass_mg;
    masses = choose(reachable_mg, share, first, second, limits.hysteresis, result.mode);
  }
  if (result.mode == bank_mode::primary || result.mode == bank_mode::both) {
    result.primary_mg = masses.total_mg - masses.secondary_mg;
    result.primary_ms = bank_pulse_ms(primary.bank.line(), first, result.primary_mg);
  }
  if (result.mode == bank_mode::secondary || result.mode == bank_mode::both) {
    result.secondary_mg = masses.secondary_mg;
    result.secondary_ms = bank_pulse_ms(secondary.bank.line(), second, result.secondary_mg);
  }
  result.shortfall_mg = mass_mg - masses.total_mg;
  if (result.shortfall_mg > T{0}) result.faults |= fuel_fault::shortfall;
  if (result.shortfall_mg < T{0}) result.faults |= fuel_fault::excess;
  return result;
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
/// Source:  no source: these laws are the project's own, and the tests hold it to them.
/// Cost:    two divisions and some thirty comparisons; about twice that when the banks in use may have to change.
template <std::floating_point T>
[[nodiscard]] constexpr bank_split<T> split(T mass_mg, T secondary_share,
                                            const std::type_identity_t<bank_lines<T>>& lines,
                                            const pulse_limits<T>& limits, bank_mode before) noexcept {
  const T pulses = limits.pulses_per_cycle;
  return detail::split_weighed(mass_mg, secondary_share, {lines.primary, pulses}, {lines.secondary, pulses}, limits,
                               before);
}

}  // namespace fettle

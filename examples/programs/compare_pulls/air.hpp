// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <numeric>
#include <string>
#include <vector>

#include "compare_pulls/pull.hpp"
#include "compare_pulls/settings.hpp"
#include "fettle/error.hpp"
#include "fettle/fuel/power_correction.hpp"

namespace compare_pulls {
namespace detail {

/// Pressure of water vapour in saturated air.
/// Source: O. A. Alduchov, R. E. Eskridge, J. Appl. Meteorol. 35 (1996) 601-609 (from memory).
[[nodiscard]] inline double saturation_kpa(double degc) {
  return 0.61094 * std::exp(17.625 * degc / (degc + 243.04));
}

/// How many of the pulls logged one quantity of the air.
[[nodiscard]] inline std::size_t count_with(const std::vector<pull>& pulls, double pull_air::*quantity) {
  return static_cast<std::size_t>(
      std::count_if(pulls.begin(), pulls.end(), [&](const pull& p) { return !std::isnan(p.air.*quantity); }));
}

/// Torque that is corrected in some pulls only would pass for a gain.
inline void refuse_in_some_only(const std::vector<pull>& pulls, double pull_air::*quantity, const char* column) {
  const std::size_t count = count_with(pulls, quantity);
  if (count == 0 || count == pulls.size()) return;
  const auto first = [&](bool has) {
    return std::find_if(pulls.begin(), pulls.end(), [&](const pull& p) { return std::isnan(p.air.*quantity) != has; })
        ->file;
  };
  throw fettle::error(fmt::format(
      "{}: has no {}, but {} has; expected it in all pulls or in none, since the torque of all is corrected "
      "alike. Log it, leave these pulls out, or set air_correction to none",
      first(false), column, first(true)));
}

[[nodiscard]] inline double factor_of(const settings& settings, const pull& p, bool uses_humidity) {
  const double vapour = uses_humidity ? p.air.humidity_pct / 100 * saturation_kpa(p.air.degc) : 0;
  const fettle::test_air<double> air{p.air.kpa - vapour, p.air.degc};
  const double factor =
      settings.air_correction == air_rule::iso_1585 ? fettle::iso_1585_factor(air) : fettle::sae_j1349_factor(air);
  if (!(factor > 0.8 && factor < 1.3))
    throw fettle::error(fmt::format(
        "{}: dry air of {:g} kPa at {:g} degC gives a correction factor of {:g}; expected absolute pressure in kPa "
        "and degrees Celsius. If the log has other units, give the columns a factor under /columns",
        p.file, air.dry_pressure_kpa, air.temperature_degc, factor));
  return factor;
}

/// The rules hold within 7 % of the standard state.
inline void caution_outside_validity(const std::vector<pull>& pulls, std::vector<std::string>& cautions) {
  const auto is_outside = [](const pull& p) { return !(p.air_factor >= 0.93 && p.air_factor <= 1.07); };
  const auto outside = std::count_if(pulls.begin(), pulls.end(), is_outside);
  if (outside == 0) return;
  const auto [least, most] = std::minmax_element(
      pulls.begin(), pulls.end(), [](const pull& a, const pull& b) { return a.air_factor < b.air_factor; });
  cautions.push_back(fmt::format(
      "The factors of the air correction run from {:.3f} to {:.3f}, and {} of {} lie outside 0.93 to 1.07, where the "
      "rule makes a test invalid; repeat the test in air closer to 99 kPa and 25 degC, or compare pulls of like "
      "weather only",
      least->air_factor, most->air_factor, outside, pulls.size()));
}

}  // namespace detail

/// Sets the factor that brings the torque of each pull to standard air: by the same rule from the same quantities for all
/// of them, or for none.
///
/// @return  what the reader must know of it.
/// Errors: `fettle::error` naming the log, for air that no engine breathes, and for a pressure or temperature that some
///         of the pulls lack. A humidity that some lack is left out for all.
[[nodiscard]] inline std::vector<std::string> correct_for_air(const settings& settings, std::vector<pull>& pulls) {
  std::vector<std::string> cautions;
  if (settings.air_correction == air_rule::none) return cautions;
  detail::refuse_in_some_only(pulls, &pull_air::kpa, "air_kPa");
  detail::refuse_in_some_only(pulls, &pull_air::degc, "air_degC");
  if (detail::count_with(pulls, &pull_air::kpa) == 0 || detail::count_with(pulls, &pull_air::degc) == 0) {
    cautions.emplace_back(
        "Torque is not corrected for the air, since the logs do not have both air_kPa and air_degC: a change of the "
        "weather counts as part of the gain");
    return cautions;
  }
  const std::size_t humid = detail::count_with(pulls, &pull_air::humidity_pct);
  for (pull& p : pulls) p.air_factor = detail::factor_of(settings, p, humid == pulls.size());
  if (humid > 0 && humid < pulls.size())
    cautions.push_back(fmt::format(
        "Only {} of {} pulls have humidity_pct, so humidity is left out of the air correction of all of them; from dry "
        "to saturated air at 25 degC it is worth 4 % of torque",
        humid, pulls.size()));
  detail::caution_outside_validity(pulls, cautions);
  return cautions;
}

}  // namespace compare_pulls

// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <string>

#include "common/session/json_reader.hpp"
#include "common/session/session.hpp"
#include "fettle/map/axis.hpp"

namespace session {
namespace detail {

[[nodiscard]] inline power_goal read_goal(const json_value& from) {
  from.only({"power_kW", "bsfc_g_per_kWh", "duty", "rpm"});
  power_goal result{.power_kw = from["power_kW"].positive()};
  if (from.has("bsfc_g_per_kWh")) result.bsfc_g_per_kwh = from["bsfc_g_per_kWh"].number(100, 2000);
  if (from.has("duty")) result.duty = from["duty"].number(0.05, 1);
  if (from.has("rpm")) result.speed_rpm = from["rpm"].number(100, 30000);
  return result;
}

[[nodiscard]] inline staging_settings read_staging(const json_value& from) {
  from.only({"wanted_share", "primary_reserve", "battery_v", "richest_lambda", "slowest_rpm", "throttle_guard",
             "steepest_per_1000rpm", "steepest_per_throttle_pct", "film_error", "lambda_excursion"});
  staging_settings result;
  const auto take = [&](const char* key, double& value, double lowest, double highest) {
    if (from.has(key)) value = from[key].number(lowest, highest);
  };
  take("wanted_share", result.wanted_share, 0, 1);
  take("primary_reserve", result.primary_reserve, 0, 0.9);
  take("battery_v", result.battery_v, 5, 60);
  take("richest_lambda", result.richest_lambda, 0.5, 1.2);
  take("slowest_rpm", result.slowest_rpm, 0, 30000);
  take("steepest_per_1000rpm", result.steepest_per_1000rpm, 1e-3, 10);
  take("steepest_per_throttle_pct", result.steepest_per_throttle_pct, 1e-4, 1);
  take("film_error", result.film_error, 0.01, 0.9);
  take("lambda_excursion", result.lambda_excursion, 1e-4, 0.2);
  if (!from.has("throttle_guard")) return result;
  const json_value guard = from["throttle_guard"];
  guard.only({"rpm", "throttle_pct"});
  result.guard_rpm.clear();
  result.guard_throttle_pct.clear();
  for (const auto& rpm : guard["rpm"].list()) result.guard_rpm.push_back(rpm.number(0, 30000));
  for (const auto& pct : guard["throttle_pct"].list()) result.guard_throttle_pct.push_back(pct.number(0, 100));
  if (fettle::check_axis(result.guard_rpm.data(), result.guard_rpm.size()).fault != fettle::axis_fault::none)
    guard["rpm"].refuse("must hold at least two speeds, each above the one before");
  if (result.guard_throttle_pct.size() != result.guard_rpm.size())
    guard["throttle_pct"].refuse("has " + std::to_string(result.guard_throttle_pct.size()) +
                                 " entries, expected one per speed, " + std::to_string(result.guard_rpm.size()));
  if (!std::is_sorted(result.guard_throttle_pct.begin(), result.guard_throttle_pct.end()))
    guard["throttle_pct"].refuse("falls somewhere; the guard may only rise with speed");
  return result;
}

}  // namespace detail
}  // namespace session

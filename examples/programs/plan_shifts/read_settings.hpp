// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/format.h>

#include <filesystem>
#include <string>
#include <vector>

#include "common/session/json_reader.hpp"
#include "fettle/map/axis.hpp"
#include "plan_shifts/settings.hpp"

namespace plan_shifts {
namespace detail {

inline void take(const session::json_value& from, const char* key, double& result, double lowest, double highest) {
  if (from.has(key)) result = from[key].number(lowest, highest);
}

/// A curve over rpm: {"rpm": [...], "<name>": [...]}.
inline void read_curve(const session::json_value& from, const char* name, std::vector<double>& rpm,
                       std::vector<double>& values) {
  from.only({"rpm", name});
  for (const auto& speed : from["rpm"].list()) rpm.push_back(speed.number(0, 30000));
  for (const auto& value : from[name].list()) values.push_back(value.number(-1000, 1000));
  if (fettle::check_axis(rpm.data(), rpm.size()).fault != fettle::axis_fault::none)
    from["rpm"].refuse("must hold at least two speeds, each above the one before");
  if (values.size() != rpm.size())
    from[name].refuse(fmt::format("has {} entries, expected one per speed, {}", values.size(), rpm.size()));
}

/// The guard must leave a blip some throttle above the one it starts from.
inline void read_guard(const session::json_value& from, settings& result) {
  read_curve(from, "throttle_pct", result.guard_rpm, result.guard_throttle_pct);
  for (std::size_t i = 0; i < result.guard_rpm.size(); ++i)
    if (!(result.guard_throttle_pct[i] > result.closed_pct))
      from["throttle_pct"].refuse(
          fmt::format("is {:g} at {:g} rpm, which leaves a blip no throttle; expected more than closed_pct, {:g}",
                      result.guard_throttle_pct[i], result.guard_rpm[i], result.closed_pct));
}

}  // namespace detail

/// Reads what plan_shifts is asked; paths in the file are relative to its folder.
///
/// Errors: `fettle::error` naming the file, the place in it (/throttle/actuator_pct_per_s), what was found and what is
///         expected.
[[nodiscard]] inline settings read_settings(const std::filesystem::path& path) {
  const auto from = session::json_value::from_file(path);
  from.only({"title", "car", "torque_map", "limit_rpm", "lowest_rpm", "throttle", "overrun", "cut_latency_s", "shift_s",
             "blip"});
  settings result;
  result.path = path;
  result.title = from["title"].name();
  result.vehicle = vehicle::read_vehicle(from["car"]);
  if (!result.vehicle.has_engine_inertia)
    from["car"].refuse("has no \"engine_kgm2\", which is needed; compare_pulls measures it");
  if (!result.vehicle.has_road_load)
    from["car"].refuse("has no \"road_load\", which is needed; compare_pulls measures it");
  if (result.vehicle.gears.size() < 3)
    from["car"]["gear_ratios"].refuse("has fewer than three gears; expected three or more");
  result.torque_path = path.parent_path() / from["torque_map"].path();
  result.limit_rpm = from["limit_rpm"].number(1000, 30000);
  detail::take(from, "lowest_rpm", result.lowest_rpm, 500, 0.8 * result.limit_rpm);
  const auto throttle = from["throttle"];
  throttle.only({"closed_pct", "actuator_pct_per_s", "delay_rev"});
  result.actuator_pct_per_s = throttle["actuator_pct_per_s"].number(1, 1e5);
  detail::take(throttle, "closed_pct", result.closed_pct, 0, 50);
  detail::take(throttle, "delay_rev", result.delay_rev, 0, 10);
  if (from.has("overrun")) detail::read_curve(from["overrun"], "torque_nm", result.overrun_rpm, result.overrun_nm);
  detail::take(from, "cut_latency_s", result.cut_latency_s, 0, 1);
  detail::take(from, "shift_s", result.shift_s, 0.001, 2);
  if (!from.has("blip")) return result;
  const auto blip = from["blip"];
  blip.only({"wanted_s", "longest_s", "engagement_s", "speed_error_pct", "throttle_guard"});
  detail::take(blip, "wanted_s", result.blip_s, 0.01, 2);
  detail::take(blip, "longest_s", result.longest_blip_s, 0.01, 5);
  if (result.longest_blip_s < result.blip_s)
    blip.refuse("has longest_s below wanted_s; expected a longest_s of at least wanted_s");
  detail::take(blip, "engagement_s", result.engagement_s, 0.001, 2);
  detail::take(blip, "speed_error_pct", result.speed_error_pct, 0.1, 50);
  if (blip.has("throttle_guard")) detail::read_guard(blip["throttle_guard"], result);
  return result;
}

}  // namespace plan_shifts

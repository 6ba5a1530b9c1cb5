// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <filesystem>
#include <string>
#include <system_error>
#include <utility>
#include <vector>

#include "common/session/json_reader.hpp"
#include "common/vehicle/read_vehicle.hpp"
#include "compare_pulls/settings.hpp"

namespace compare_pulls {
namespace detail {

[[nodiscard]] inline direction read_direction(const session::json_value& from) {
  if (!from.has("direction")) return direction::unknown;
  const std::string way = from["direction"].text();
  if (way != "out" && way != "back") from["direction"].refuse("is \"" + way + "\", expected out or back");
  return way == "out" ? direction::out : direction::back;
}

[[nodiscard]] inline pull_file read_pull(const session::json_value& from, const settings& into, std::size_t set) {
  from.only({"file", "gear", "free", "direction"});
  pull_file result{.path = into.path.parent_path() / from["file"].text(), .set = set, .way = read_direction(from)};
  if (from.has("free")) result.is_free = from["free"].yes_or_no();
  if (from.has("gear")) result.gear = from["gear"].whole(1, std::max<std::size_t>(into.gears.size(), 1));
  if (result.is_free && result.gear != 0)
    from.refuse("is free and in gear; expected \"free\": true with the clutch out, or a gear");
  if (into.by == method::road && !result.is_free && result.gear == 0)
    from.refuse("has no \"gear\", which a pull on the road needs; give the gear, counted from 1");
  return result;
}

/// A pull counts once.
inline void refuse_second_use(const session::json_value& at, const settings& into, const std::filesystem::path& file) {
  std::error_code missing;  // what is not there is refused by its reader
  for (const auto& one : into.state)
    for (const auto& pull : one.pulls)
      if (std::filesystem::equivalent(pull.path, file, missing))
        at.refuse("is the same file as another pull; a pull counts once, expected each file once");
}

inline void read_state(const session::json_value& from, settings& into, std::size_t which) {
  from.only({"name", "sets", "engine_kgm2"});
  into.state[which].name = from["name"].text();
  if (from.has("engine_kgm2")) into.state[which].engine_kgm2 = from["engine_kgm2"].positive();
  for (const auto& set : from["sets"].list()) {
    for (const auto& one : set.list()) {
      const pull_file pull = read_pull(one, into, into.state[which].sets);
      refuse_second_use(one["file"], into, pull.path);
      into.state[which].pulls.push_back(pull);
    }
    ++into.state[which].sets;
  }
  if (into.state[which].pulls.empty()) from["sets"].refuse("names no pull; expected [[{\"file\": ...}, ...], ...]");
}

inline void read_car(const session::json_value& from, settings& into) {
  const auto car = vehicle::read_vehicle(from);
  into.car = car.car;
  into.gears = car.gears;
  into.has_road_load = car.has_road_load;
  if (car.has_engine_inertia)
    for (auto& one : into.state) one.engine_kgm2 = car.car.turning.engine_kgm2;
}

}  // namespace detail

/// Reads what compare_pulls is asked; paths in the file are relative to its folder.
///
/// Errors: `fettle::error` naming the file, the place in it (/before/sets/0/1/gear), what was found and what is expected.
[[nodiscard]] inline settings read_settings(const std::filesystem::path& path) {
  const auto from = session::json_value::from_file(path);
  from.only({"title", "method", "air_correction", "car", "coast_downs", "before", "after", "columns",
             "full_throttle_pct", "between_sets_pct", "efficiency_spread_pct", "gain_pct", "seconds"});
  settings result;
  result.path = path;
  result.title = from["title"].text();
  const std::string by = from["method"].text();
  if (by != "dyno" && by != "road") from["method"].refuse("is \"" + by + "\", expected dyno or road");
  result.by = by == "dyno" ? method::dyno : method::road;
  if (from.has("air_correction")) {
    const std::string rule = from["air_correction"].text();
    if (rule != "iso_1585" && rule != "sae_j1349" && rule != "none")
      from["air_correction"].refuse("is \"" + rule + "\", expected iso_1585, sae_j1349 or none");
    result.rule = rule == "none" ? air_rule::none : rule == "iso_1585" ? air_rule::iso_1585 : air_rule::sae_j1349;
  }
  if (result.by == method::road || from.has("car")) detail::read_car(from["car"], result);
  if (from.has("coast_downs"))
    for (const auto& run : from["coast_downs"].list()) {
      run.only({"file", "direction"});
      result.coast_downs.push_back({path.parent_path() / run["file"].text(), detail::read_direction(run)});
    }
  if (result.by == method::road && result.has_road_load == !result.coast_downs.empty())
    from.refuse("needs the road load once: either \"coast_downs\" or /car/road_load");
  detail::read_state(from["before"], result, 0);
  detail::read_state(from["after"], result, 1);
  if (from.has("columns")) result.columns = vehicle::read_columns(from["columns"], vehicle::pull_columns);
  if (from.has("full_throttle_pct")) result.full_throttle_pct = from["full_throttle_pct"].number(20, 100);
  if (from.has("between_sets_pct")) result.between_sets_pct = from["between_sets_pct"].number(0, 10);
  if (from.has("efficiency_spread_pct")) result.efficiency_spread_pct = from["efficiency_spread_pct"].number(0, 10);
  if (from.has("gain_pct")) result.gain_pct = from["gain_pct"].number(0.05, 100);
  if (from.has("seconds")) {
    const auto stretch = from["seconds"];
    stretch.only({"from_kmh", "to_kmh"});
    result.from_kmh = stretch["from_kmh"].number(1, 500);
    result.to_kmh = stretch["to_kmh"].number(1, 500);
    if (!(result.to_kmh > result.from_kmh)) stretch["to_kmh"].refuse("is not above from_kmh");
  }
  return result;
}

}  // namespace compare_pulls

// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <filesystem>
#include <string>
#include <system_error>
#include <utility>
#include <vector>

#include "common/session/choice.hpp"
#include "common/session/json_reader.hpp"
#include "common/vehicle/read_vehicle.hpp"
#include "compare_pulls/settings.hpp"

namespace compare_pulls {
namespace detail {

[[nodiscard]] inline direction read_direction(const session::json_value& from) {
  if (!from.has("direction")) return direction::unknown;
  return session::one_of<direction>(from["direction"], {{"out", direction::out}, {"back", direction::back}});
}

[[nodiscard]] inline pull_file read_pull(const session::json_value& from, const settings& so_far, std::size_t set) {
  from.only({"file", "gear", "free", "direction"});
  pull_file result{.path = so_far.path.parent_path() / from["file"].path(), .set = set, .way = read_direction(from)};
  if (from.has("free")) result.is_free = from["free"].yes_or_no();
  if (from.has("gear")) result.gear = from["gear"].whole(1, std::max<std::size_t>(so_far.gears.size(), 1));
  if (result.is_free && result.gear != 0)
    from.refuse("is free and in gear; expected \"free\": true in neutral, or a gear");
  const bool is_road = so_far.source == torque_source::road && !result.is_free;
  if (is_road && result.gear == 0)
    from.refuse("has no \"gear\", which a pull on the road needs; give the gear, counted from 1");
  if (!is_road && result.way != direction::unknown)
    from["direction"].refuse("is given for an engine that does not move the car; expected it for road pulls only");
  return result;
}

/// A log counts once: twice, it would pass for two tests that agree.
inline void refuse_second_use(const session::json_value& at, const settings& so_far,
                              const std::filesystem::path& path) {
  std::error_code missing;  // a file that does not exist is refused by its reader
  for (const auto& earlier : so_far.files())
    if (std::filesystem::equivalent(earlier, path, missing))
      at.refuse("is named a second time in this session; expected each file once");
}

inline void read_state(const session::json_value& from, settings& result, std::size_t which) {
  from.only({"name", "sets", "engine_kgm2"});
  auto& state = result.state[which];
  state.name = from["name"].name();
  if (from.has("engine_kgm2")) state.engine_kgm2 = from["engine_kgm2"].positive();
  for (const auto& set : from["sets"].list()) {
    const auto entries = set.list();
    if (entries.empty()) set.refuse("is empty; expected at least one pull in every set");
    for (const auto& entry : entries) {
      const pull_file pull = read_pull(entry, result, state.sets);
      refuse_second_use(entry["file"], result, pull.path);
      state.pulls.push_back(pull);
    }
    ++state.sets;
  }
  if (state.pulls.empty()) from["sets"].refuse("names no pull; expected [[{\"file\": ...}, ...], ...]");
}

inline void read_car(const session::json_value& from, settings& result) {
  const auto described = vehicle::read_vehicle(from);
  result.car = described.car;
  result.gears = described.gears;
  result.has_road_load = described.has_road_load;
  if (described.has_engine_inertia)
    for (auto& state : result.state) state.engine_kgm2 = described.car.turning.engine_kgm2;
}

inline void read_coast_downs(const session::json_value& from, settings& result) {
  if (!result.gears.empty() && result.has_road_load)
    from.refuse("is given beside /car/road_load; expected the road load once, measured or given");
  if (result.gears.empty()) from.refuse("needs \"car\" in the session: without its mass a deceleration gives no force");
  for (const auto& run : from.list()) {
    run.only({"file", "direction"});
    const coast_file file{result.path.parent_path() / run["file"].path(), read_direction(run)};
    refuse_second_use(run["file"], result, file.path);
    result.coast_downs.push_back(file);
  }
}

inline void read_stretch(const session::json_value& from, settings& result) {
  from.only({"from_kmh", "to_kmh"});
  result.from_kmh = from["from_kmh"].number(1, 500);
  result.to_kmh = from["to_kmh"].number(1, 500);
  if (!(result.to_kmh > result.from_kmh)) from["to_kmh"].refuse("is not above from_kmh; expected a higher speed");
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
  result.title = from["title"].name();
  result.source =
      session::one_of<torque_source>(from["method"], {{"dyno", torque_source::dyno}, {"road", torque_source::road}});
  if (from.has("air_correction"))
    result.air_correction = session::one_of<air_rule>(
        from["air_correction"],
        {{"iso_1585", air_rule::iso_1585}, {"sae_j1349", air_rule::sae_j1349}, {"none", air_rule::none}});
  const bool is_road = result.source == torque_source::road;
  if (is_road || from.has("car")) detail::read_car(from["car"], result);
  if (from.has("coast_downs")) detail::read_coast_downs(from["coast_downs"], result);
  if (is_road && !result.has_road_load && result.coast_downs.empty())
    from.refuse("has no road load; give \"coast_downs\" or /car/road_load");
  detail::read_state(from["before"], result, 0);
  detail::read_state(from["after"], result, 1);
  if (from.has("columns")) result.columns = vehicle::read_columns(from["columns"], vehicle::pull_columns);
  if (from.has("full_throttle_pct")) result.full_throttle_pct = from["full_throttle_pct"].number(20, 100);
  if (from.has("between_sets_pct")) result.between_sets_pct = from["between_sets_pct"].number(0, 10);
  if (from.has("efficiency_spread_pct")) result.efficiency_spread_pct = from["efficiency_spread_pct"].number(0, 10);
  if (from.has("gain_pct")) result.gain_pct = from["gain_pct"].number(0.05, 100);
  if (from.has("seconds")) detail::read_stretch(from["seconds"], result);
  return result;
}

}  // namespace compare_pulls

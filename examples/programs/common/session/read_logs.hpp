// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cstddef>
#include <filesystem>
#include <string>
#include <system_error>
#include <vector>

#include "common/session/json_reader.hpp"
#include "common/session/read_column.hpp"
#include "common/session/read_map_facts.hpp"
#include "common/session/session.hpp"

namespace session {
namespace detail {

/// Whose exhaust passes a sensor: a cylinder, 0 for all of them, or the list of those that share its pipe.
[[nodiscard]] inline std::vector<std::size_t> read_cylinders(const json_value& from, std::size_t cylinders) {
  std::vector<std::size_t> result;
  if (!from.is_list()) {
    if (const std::size_t cylinder = from.whole(0, cylinders); cylinder > 0) result.push_back(cylinder);
    return result;
  }
  for (const auto& each : from.list()) {
    result.push_back(each.whole(1, cylinders));
    if (std::find(result.begin(), result.end() - 1, result.back()) != result.end() - 1)
      from.refuse("names cylinder " + std::to_string(result.back()) + " twice; name each once");
  }
  if (result.empty()) from.refuse("names no cylinder; give those whose exhaust passes the sensor, or 0 for all");
  return result;
}

/// Where sensors sat during one log: {"pipe 1": 3, "pipe 2": null}; null: not fitted.
[[nodiscard]] inline std::vector<seat> read_seats(const json_value& from, const session& setup) {
  std::vector<seat> result;
  for (const auto& [name, place] : from.members()) {
    const auto moved = std::find_if(setup.sensors.begin(), setup.sensors.end(),
                                    [&wanted = name](const sensor& each) { return each.name == wanted; });
    if (moved == setup.sensors.end()) {
      std::string known;
      for (const auto& each : setup.sensors) known += (known.empty() ? "\"" : ", \"") + each.name + "\"";
      from.refuse("moves \"" + name + "\", which is not one of the sensors " + known);
    }
    const bool is_fitted = !place.is_null();
    result.push_back({.sensor = static_cast<std::size_t>(moved - setup.sensors.begin()),
                      .is_fitted = is_fitted,
                      .cylinders = is_fitted ? read_cylinders(place, setup.cylinders) : std::vector<std::size_t>{}});
  }
  return result;
}

/// The readings of one drive are evidence once.
inline void refuse_second_reading(const json_value& file, const std::vector<std::filesystem::path>& logs) {
  std::error_code missing;  // what is not there is refused by its reader
  for (std::size_t i = 0; i + 1 < logs.size(); ++i)
    if (std::filesystem::equivalent(logs[i], logs.back(), missing))
      file.refuse("is the same file as /logs/" + std::to_string(i) +
                  "; its readings count once, expected each log once in the list");
}

/// Columns of ours that a file holds under another name or in another unit.
[[nodiscard]] inline std::vector<fettle::log_channel> read_columns(const json_value& from) {
  std::vector<fettle::log_channel> result;
  for (const auto& [name, column] : from.members()) result.push_back(read_column(name, column));
  return result;
}

/// Trims of all cylinders: [{"file": "trim_1.csv"}, ...]; an empty list: none.
[[nodiscard]] inline std::vector<std::filesystem::path> read_trim_paths(const json_value& from,
                                                                        const std::filesystem::path& folder,
                                                                        std::size_t cylinders) {
  std::vector<std::filesystem::path> result;
  for (const auto& map : from.list()) {
    map.only({"file"});
    result.push_back(folder / map["file"].path());
  }
  if (!result.empty() && result.size() != cylinders)
    from.refuse("lists " + std::to_string(result.size()) + " maps, expected one for each of the " +
                std::to_string(cylinders) + " cylinders, or none");
  return result;
}

inline void read_log_entry(const json_value& from, const std::filesystem::path& folder, session& destination) {
  from.only({"file", "assignment", "columns", "map", "trim_maps", "lambda_target", "closed_loop"});
  destination.log_paths.push_back(folder / from["file"].path());
  refuse_second_reading(from["file"], destination.log_paths);
  log_facts& facts = destination.facts.emplace_back();
  if (from.has("assignment")) facts.seats = read_seats(from["assignment"], destination);
  if (from.has("columns")) facts.columns = read_columns(from["columns"]);
  if (from.has("map")) {
    const json_value map = from["map"];
    map.only({"file", "factor"});
    if (map.has("file")) facts.loaded_map_path = folder / map["file"].path();
    if (map.has("factor")) facts.map_factor = map["factor"].number(0.1, 10);
  }
  if (from.has("trim_maps"))
    facts.loaded_trim_paths = read_trim_paths(from["trim_maps"], folder, destination.cylinders);
  if (from.has("lambda_target")) facts.target = read_target(from["lambda_target"], folder);
  if (from.has("closed_loop")) facts.loop_is_closed = from["closed_loop"].yes_or_no();
}

}  // namespace detail
}  // namespace session

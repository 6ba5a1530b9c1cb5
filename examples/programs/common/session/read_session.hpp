// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cstddef>
#include <filesystem>
#include <string>
#include <system_error>
#include <utility>
#include <vector>

#include "common/session/json_reader.hpp"
#include "common/session/session.hpp"
#include "fettle/map/axis.hpp"

namespace session {
namespace detail {

[[nodiscard]] inline bank read_bank(const json_value& from) {
  from.only({"name", "flow_mg_ms", "dead_time", "dead_time_ms", "smallest_pulse_ms", "largest_duty", "pulse_column",
             "reference_kPa", "film"});
  bank result{.name = from["name"].text(), .flow_mg_ms = from["flow_mg_ms"].positive()};
  if (from.has("dead_time")) {
    const json_value curve = from["dead_time"];
    curve.only({"battery_v", "ms"});
    for (const auto& volts : curve["battery_v"].list()) result.battery_v.push_back(volts.number(0, 60));
    for (const auto& ms : curve["ms"].list()) result.dead_time_ms.push_back(ms.number(0, 20));
    if (fettle::check_axis(result.battery_v.data(), result.battery_v.size()).fault != fettle::axis_fault::none)
      curve["battery_v"].refuse("must hold at least two voltages, each above the one before");
    if (result.dead_time_ms.size() != result.battery_v.size())
      curve["ms"].refuse("has " + std::to_string(result.dead_time_ms.size()) +
                         " entries, expected one per battery voltage, " + std::to_string(result.battery_v.size()));
  } else {
    result.dead_time_ms = {from["dead_time_ms"].number(0, 20)};
  }
  result.smallest_pulse_ms = from["smallest_pulse_ms"].number(0, 50);
  if (from.has("largest_duty")) result.largest_duty = from["largest_duty"].number(0.05, 1);
  if (from.has("pulse_column")) result.pulse_column = from["pulse_column"].text();
  if (from.has("reference_kPa")) result.reference_kpa = from["reference_kPa"].positive();
  if (from.has("film")) {
    const json_value film = from["film"];
    film.only({"share", "time_s"});
    result.film_share = film["share"].number(0, 0.95);
    result.film_time_s = film["time_s"].number(0.001, 10);
  }
  return result;
}

[[nodiscard]] inline sensor read_sensor(const json_value& from, std::size_t cylinders) {
  from.only({"name", "column", "cylinder", "calibrated", "latency_s", "lag_s", "pipe_gas_mass_g", "lowest", "highest"});
  sensor result{.name = from["name"].text(), .column = from["column"].text()};
  result.cylinder = from["cylinder"].whole(0, cylinders);
  result.is_calibrated = from.has("calibrated") ? from["calibrated"].yes_or_no() : result.cylinder == 0;
  if (from.has("latency_s")) result.latency_s = from["latency_s"].number(0, 2);
  result.lag_s = from["lag_s"].number(0, 5);
  result.pipe_gas_mass_g = from["pipe_gas_mass_g"].number(0, 50);
  if (from.has("lowest")) result.lowest = from["lowest"].number(0.3, 1);
  if (from.has("highest")) result.highest = from["highest"].number(1, 20);
  return result;
}

inline void read_map(const json_value& from, const std::filesystem::path& folder, session& into) {
  from.only({"file", "meaning", "reference_kPa", "reference_degC"});
  into.map_path = folder / from["file"].text();
  const std::string holds = from["meaning"].text();
  if (holds == "fuel_mg")
    into.holds = meaning::fuel_mg;
  else if (holds == "ve_pct")
    into.holds = meaning::ve_pct;
  else if (holds == "pulse_ms")
    into.holds = meaning::pulse_ms;
  else
    from["meaning"].refuse("is \"" + holds + "\", expected fuel_mg, ve_pct or pulse_ms");
  if (from.has("reference_kPa")) into.reference_kpa = from["reference_kPa"].positive();
  if (from.has("reference_degC")) into.reference_degc = from["reference_degC"].number(-60, 150);
}

[[nodiscard]] inline power_goal read_goal(const json_value& from) {
  from.only({"power_kW", "bsfc_g_per_kWh", "duty"});
  power_goal result{.power_kw = from["power_kW"].positive()};
  if (from.has("bsfc_g_per_kWh")) result.bsfc_g_per_kwh = from["bsfc_g_per_kWh"].number(100, 2000);
  if (from.has("duty")) result.duty = from["duty"].number(0.05, 1);
  return result;
}

[[nodiscard]] inline staging_settings read_staging(const json_value& from) {
  from.only({"wanted_share", "primary_reserve", "battery_v", "richest_lambda", "slowest_rpm", "throttle_guard",
             "steepest_per_1000rpm", "steepest_per_throttle_pct", "film_error", "lambda_excursion"});
  staging_settings result;
  const auto take = [&](const char* key, double& into, double lowest, double highest) {
    if (from.has(key)) into = from[key].number(lowest, highest);
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

template <class Item>
void refuse_equal_names(const json_value& list, const std::vector<Item>& items) {
  for (std::size_t i = 0; i < items.size(); ++i)
    for (std::size_t k = 0; k < i; ++k)
      if (items[i].name == items[k].name) list.refuse("names \"" + items[i].name + "\" twice; give each its own name");
}

/// Where sensors sat during one log: {"pipe 1": 3, "pipe 2": null}; null: not fitted.
[[nodiscard]] inline std::vector<seat> read_seats(const json_value& from, const session& of) {
  std::vector<seat> result;
  for (const auto& [name, place] : from.members()) {
    const auto found = std::find_if(of.sensors.begin(), of.sensors.end(),
                                    [&name = name](const sensor& one) { return one.name == name; });
    if (found == of.sensors.end()) {
      std::string known;
      for (const auto& one : of.sensors) known += (known.empty() ? "\"" : ", \"") + one.name + "\"";
      from.refuse("moves \"" + name + "\", which is not one of the sensors " + known);
    }
    const bool is_fitted = !place.is_null();
    result.push_back({.sensor = static_cast<std::size_t>(found - of.sensors.begin()),
                      .is_fitted = is_fitted,
                      .cylinder = is_fitted ? place.whole(0, of.cylinders) : 0});
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

[[nodiscard]] inline trimming read_trimming(const json_value& from) {
  from.only({"trim_axes", "richer_pct", "leaner_pct", "lean_alarm_pct"});
  trimming result;
  if (from.has("trim_axes")) {
    const json_value axes = from["trim_axes"];
    result.axes_are_given = true;
    for (const auto& [name, points] : axes.members()) {
      result.axes.push_back(name);
      auto& breakpoints = result.points.emplace_back();
      for (const auto& point : points.list()) breakpoints.push_back(point.number(-1e9, 1e9));
      if (fettle::check_axis(breakpoints.data(), breakpoints.size()).fault != fettle::axis_fault::none)
        points.refuse("must hold at least two breakpoints, each above the one before");
    }
    if (result.axes.size() > 2) axes.refuse("names more than two axes; a trim map has none, one or two");
  }
  if (from.has("richer_pct")) result.richer_pct = from["richer_pct"].number(0, 20);
  if (from.has("leaner_pct")) result.leaner_pct = from["leaner_pct"].number(0, 10);
  if (from.has("lean_alarm_pct")) result.lean_alarm_pct = from["lean_alarm_pct"].number(0.1, 20);
  return result;
}

/// A misspelt name under /columns would leave the column that was meant unread without a word.
inline void refuse_unknown_columns(const session& of, const std::vector<fettle::log_channel>& known) {
  for (const auto& column : of.columns) {
    if (std::any_of(known.begin(), known.end(), [&](const auto& one) { return one.name == column.name; })) continue;
    std::string list;
    for (const auto& one : known) list += (list.empty() ? "" : ", ") + one.name;
    throw fettle::error(fettle::detail::printable(of.path.string() + ": /columns has \"" + column.name +
                                                  "\", which is not known here; known are " + list));
  }
}

}  // namespace detail

/// Reads a session file; paths in it are relative to its folder.
///
/// Errors: `fettle::error` naming the file, the place in it (/banks/0/flow_mg_ms), what was found and what is expected.
[[nodiscard]] inline session read_session(const std::filesystem::path& path) {
  const json_value from = json_value::from_file(path);
  from.only({"title", "engine", "fuel", "banks", "map", "share_map", "usage_map", "logs", "columns", "sensors", "path",
             "one_pass", "coldest_degC", "target", "staging", "virtual_engine", "cylinders"});
  const std::filesystem::path folder = path.parent_path();
  session result;
  result.path = path;
  result.title = from["title"].text();
  const json_value engine = from["engine"];
  engine.only({"cylinders", "displacement_l"});
  result.cylinders = engine["cylinders"].whole(1, 16);
  result.displacement_l = engine["displacement_l"].positive();
  const json_value fuel = from["fuel"];
  fuel.only({"stoichiometric_afr", "density_kg_m3"});
  result.stoichiometric_afr = fuel["stoichiometric_afr"].number(1, 40);
  if (fuel.has("density_kg_m3")) result.fuel_density_kg_m3 = fuel["density_kg_m3"].positive();

  for (const auto& one : from["banks"].list()) result.banks.push_back(detail::read_bank(one));
  if (result.banks.empty() || result.banks.size() > 2) from["banks"].refuse("must describe one bank or two");
  detail::refuse_equal_names(from["banks"], result.banks);
  if (result.banks.size() == 2 && result.banks[0].pulse_column.empty() != result.banks[1].pulse_column.empty())
    from["banks"].refuse("must give a pulse_column for both banks or for neither");
  for (const auto& one : from["sensors"].list()) result.sensors.push_back(detail::read_sensor(one, result.cylinders));
  if (result.sensors.empty()) from["sensors"].refuse("is empty; describe at least one lambda sensor");
  detail::refuse_equal_names(from["sensors"], result.sensors);
  for (std::size_t i = 0; i < result.sensors.size(); ++i)
    for (std::size_t k = 0; k < i; ++k)
      if (result.sensors[i].column == result.sensors[k].column)
        from["sensors"].refuse("reads column \"" + result.sensors[i].column + "\" for both \"" +
                               result.sensors[k].name + "\" and \"" + result.sensors[i].name +
                               "\"; every sensor has a column of its own");

  detail::read_map(from["map"], folder, result);
  if (from.has("share_map")) {
    from["share_map"].only({"file"});
    result.share_map_path = folder / from["share_map"]["file"].text();
  }
  if (from.has("usage_map")) {
    from["usage_map"].only({"file"});
    result.usage_map_path = folder / from["usage_map"]["file"].text();
  }
  for (const auto& one : from["logs"].list()) {
    one.only({"file", "assignment"});
    result.log_paths.push_back(folder / one["file"].text());
    detail::refuse_second_reading(one["file"], result.log_paths);
    result.seats.push_back(one.has("assignment") ? detail::read_seats(one["assignment"], result) : std::vector<seat>{});
  }
  if (result.log_paths.empty()) from["logs"].refuse("is empty; name at least one log file");
  if (from.has("columns"))
    for (const auto& [name, column] : from["columns"].members()) {
      column.only({"name", "factor", "offset"});
      fettle::log_channel channel{.name = name, .file_name = column.has("name") ? column["name"].text() : name};
      if (column.has("factor")) channel.factor = column["factor"].number(-1e12, 1e12);
      if (channel.factor == 0) column["factor"].refuse("is 0, which would turn every value into the offset");
      if (column.has("offset")) channel.offset = column["offset"].number(-1e12, 1e12);
      result.columns.push_back(std::move(channel));
    }
  const json_value way = from["path"];
  way.only({"revolutions"});
  result.revolutions = way["revolutions"].number(0, 20);
  if (from.has("one_pass")) {
    const json_value one_pass = from["one_pass"];
    one_pass.only({"richer_pct", "leaner_pct"});
    if (one_pass.has("richer_pct")) result.richer_pct = one_pass["richer_pct"].number(0, 50);
    if (one_pass.has("leaner_pct")) result.leaner_pct = one_pass["leaner_pct"].number(0, 20);
  }
  if (from.has("target")) result.goal = detail::read_goal(from["target"]);
  if (from.has("staging")) result.staging = detail::read_staging(from["staging"]);
  if (from.has("virtual_engine")) {
    from["virtual_engine"].only({"seed"});
    result.virtual_engine_seed = from["virtual_engine"]["seed"].whole(0, 1'000'000'000);
  }
  if (from.has("cylinders")) result.trims = detail::read_trimming(from["cylinders"]);
  if (from.has("coldest_degC")) result.coldest_degc = from["coldest_degC"].number(-60, 150);
  return result;
}

/// The columns that a session needs from a log.
///
/// The map's axes, time, speed, target and the sensors fitted are required, and pulses where a bank names their column;
/// conditions of the moment are used when the log has them.
/// Errors: `fettle::error` when /columns gives a name to a column that nothing here reads.
[[nodiscard]] inline std::vector<fettle::log_channel> wanted_channels(const session& of,
                                                                      const std::vector<std::string>& axes) {
  std::vector<fettle::log_channel> result;
  const auto want = [&](const std::string& name, bool required) {
    for (const auto& known : result)
      if (known.name == name) return;
    for (const auto& column : of.columns)
      if (column.name == name) {
        result.push_back(column);
        return;
      }
    result.push_back({.name = name, .file_name = name, .required = required});
  };
  want("time_s", true);
  want("rpm", true);
  for (const auto& axis : axes) want(axis, true);
  want("lambda_target", true);
  for (const auto& bank : of.banks)
    if (!bank.pulse_column.empty()) want(bank.pulse_column, true);
  for (const auto& sensor : of.sensors) want(sensor.column, true);
  for (const char* name : {"throttle_pct", "battery_v", "air_kPa", "air_degC", "coolant_degC", "fuel_kPa", "fuel_cut"})
    want(name, false);
  detail::refuse_unknown_columns(of, result);
  for (const auto& sensor : of.sensors)
    if (!sensor.is_fitted) std::erase_if(result, [&](const auto& column) { return column.name == sensor.column; });
  return result;
}

}  // namespace session

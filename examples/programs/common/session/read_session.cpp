// SPDX-License-Identifier: MIT
#include "common/session/read_session.hpp"

#include <cstddef>
#include <string>
#include <vector>

#include "common/session/json_reader.hpp"
#include "common/session/read_bank.hpp"
#include "common/session/read_logs.hpp"
#include "common/session/read_map_facts.hpp"
#include "common/session/read_staging.hpp"
#include "fettle/map/axis.hpp"

namespace session {
namespace detail {
namespace {

sensor read_sensor(const json_value& from, std::size_t cylinders) {
  from.only({"name", "column", "cylinder", "calibrated", "latency_s", "lag_s", "pipe_gas_mass_g", "lowest", "highest"});
  sensor result{.name = from["name"].name(), .column = from["column"].text()};
  result.cylinders = read_cylinders(from["cylinder"], cylinders);
  result.is_calibrated = from.has("calibrated") ? from["calibrated"].yes_or_no() : result.cylinders.empty();
  if (from.has("latency_s")) result.latency_s = from["latency_s"].number(0, 2);
  result.lag_s = from["lag_s"].number(0, 5);
  result.pipe_gas_mass_g = from["pipe_gas_mass_g"].number(0, 50);
  if (from.has("lowest")) result.lowest = from["lowest"].number(0.3, 1);
  if (from.has("highest")) result.highest = from["highest"].number(1, 20);
  return result;
}

template <class Item>
void refuse_equal_names(const json_value& list, const std::vector<Item>& items) {
  for (std::size_t i = 0; i < items.size(); ++i)
    for (std::size_t k = 0; k < i; ++k)
      if (items[i].name == items[k].name) list.refuse("names \"" + items[i].name + "\" twice; give each its own name");
}

trimming read_trimming(const json_value& from, const std::filesystem::path& folder, std::size_t cylinders) {
  from.only({"trim_axes", "trim_maps", "richer_pct", "leaner_pct", "lean_alarm_pct"});
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
  if (from.has("trim_maps")) result.map_paths = read_trim_paths(from["trim_maps"], folder, cylinders);
  if (from.has("richer_pct")) result.richer_pct = from["richer_pct"].number(0, 20);
  if (from.has("leaner_pct")) result.leaner_pct = from["leaner_pct"].number(0, 10);
  if (from.has("lean_alarm_pct")) result.lean_alarm_pct = from["lean_alarm_pct"].number(0.1, 20);
  return result;
}

void read_sensors(const json_value& list, session& destination) {
  auto& sensors = destination.sensors;
  for (const auto& sensor : list.list()) sensors.push_back(read_sensor(sensor, destination.cylinders));
  if (sensors.empty()) list.refuse("is empty; describe at least one lambda sensor");
  refuse_equal_names(list, sensors);
  for (std::size_t i = 0; i < sensors.size(); ++i)
    for (std::size_t k = 0; k < i; ++k)
      if (sensors[i].column == sensors[k].column)
        list.refuse("reads column \"" + sensors[i].column + "\" for both \"" + sensors[k].name + "\" and \"" +
                    sensors[i].name + "\"; every sensor has a column of its own");
}

/// Engine, fuel and injectors.
void read_engine(const json_value& from, session& destination) {
  const json_value engine = from["engine"];
  engine.only({"cylinders", "displacement_l"});
  destination.cylinders = engine["cylinders"].whole(1, 16);
  destination.displacement_l = engine["displacement_l"].number(0.03, 30);
  const json_value fuel = from["fuel"];
  fuel.only({"stoichiometric_afr", "density_kg_m3", "rail"});
  destination.stoichiometric_afr = fuel["stoichiometric_afr"].number(1, 40);
  if (fuel.has("density_kg_m3")) destination.fuel_density_kg_m3 = fuel["density_kg_m3"].number(500, 1200);
  if (fuel.has("rail")) destination.rail = read_rail(fuel["rail"]);

  auto& banks = destination.banks;
  for (const auto& bank : from["banks"].list()) banks.push_back(read_bank(bank, destination.cylinders));
  if (banks.empty() || banks.size() > 2) from["banks"].refuse("must describe one bank or two");
  refuse_equal_names(from["banks"], banks);
  if (banks.size() == 2 && banks[0].pulse_columns.empty() != banks[1].pulse_columns.empty())
    from["banks"].refuse("must give a pulse_column, or pulse_columns, for both banks or for neither");
}

/// Maps, logs and how the logs are read.
void read_files(const json_value& from, const std::filesystem::path& folder, session& destination) {
  read_map(from["map"], folder, destination);
  const auto path_of = [&](const char* key) {
    from[key].only({"file"});
    return folder / from[key]["file"].path();
  };
  if (from.has("share_map")) destination.share_map_path = path_of("share_map");
  if (from.has("usage_map")) destination.usage_map_path = path_of("usage_map");
  for (const auto& log : from["logs"].list()) read_log_entry(log, folder, destination);
  if (destination.log_paths.empty()) from["logs"].refuse("is empty; name at least one log file");
  if (from.has("columns")) destination.columns = read_columns(from["columns"]);
  if (from.has("lambda_target")) destination.target = read_target(from["lambda_target"], folder);
  if (from.has("closed_loop")) destination.loop_is_closed = from["closed_loop"].yes_or_no();
  if (from.has("strict")) destination.is_strict = from["strict"].yes_or_no();
}

/// What the programs are to do.
void read_jobs(const json_value& from, const std::filesystem::path& folder, session& destination) {
  if (from.has("one_pass")) {
    const json_value one_pass = from["one_pass"];
    one_pass.only({"richer_pct", "leaner_pct"});
    if (one_pass.has("richer_pct")) destination.richer_pct = one_pass["richer_pct"].number(0, 50);
    if (one_pass.has("leaner_pct")) destination.leaner_pct = one_pass["leaner_pct"].number(0, 20);
  }
  if (from.has("target")) destination.goal = read_goal(from["target"]);
  if (from.has("staging")) destination.staging = read_staging(from["staging"]);
  if (from.has("virtual_engine")) {
    from["virtual_engine"].only({"seed"});
    destination.virtual_engine_seed = from["virtual_engine"]["seed"].whole(0, 1'000'000'000);
  }
  if (from.has("cylinders")) destination.trims = read_trimming(from["cylinders"], folder, destination.cylinders);
  if (from.has("coldest_degC")) destination.coldest_degc = from["coldest_degC"].number(-60, 150);
}

}  // namespace
}  // namespace detail

session read_session(const std::filesystem::path& path) {
  const json_value from = json_value::from_file(path);
  from.only({"title",        "engine",        "fuel",        "banks",          "map",
             "share_map",    "usage_map",     "logs",        "columns",        "sensors",
             "path",         "lambda_target", "closed_loop", "strict",         "one_pass",
             "coldest_degC", "target",        "staging",     "virtual_engine", "cylinders"});
  session result;
  result.path = path;
  result.title = from["title"].name();
  detail::read_engine(from, result);
  detail::read_sensors(from["sensors"], result);
  detail::read_files(from, path.parent_path(), result);
  from["path"].only({"revolutions"});
  result.revolutions = from["path"]["revolutions"].number(0, 20);
  detail::read_jobs(from, path.parent_path(), result);
  result.guesses = from.guesses();
  return result;
}

}  // namespace session

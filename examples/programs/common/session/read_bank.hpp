// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cstddef>
#include <string>
#include <vector>

#include "common/session/choice.hpp"
#include "common/session/json_reader.hpp"
#include "common/session/session.hpp"
#include "fettle/map/axis.hpp"

namespace session {
namespace detail {

/// Columns of one bank's pulses: one for all cylinders, or one for each; none when pulses are not logged.
[[nodiscard]] inline std::vector<std::string> read_pulse_columns(const json_value& from, std::size_t cylinders) {
  if (!from.has("pulse_columns"))
    return from.has("pulse_column") ? std::vector{from["pulse_column"].text()} : std::vector<std::string>{};
  if (from.has("pulse_column")) from.refuse("has both \"pulse_column\" and \"pulse_columns\"; keep one of them");
  std::vector<std::string> result;
  const json_value columns = from["pulse_columns"];
  for (const auto& column : columns.list()) {
    result.push_back(column.text());
    if (std::count(result.begin(), result.end(), result.back()) > 1)
      column.refuse("is there twice; every cylinder has a column of its own");
  }
  if (result.size() != cylinders)
    columns.refuse("has " + std::to_string(result.size()) + " entries, expected one per cylinder, " +
                   std::to_string(cylinders));
  return result;
}

[[nodiscard]] inline bank read_bank(const json_value& from, std::size_t cylinders) {
  from.only({"name", "flow_mg_ms", "dead_time", "dead_time_ms", "smallest_pulse_ms", "largest_duty", "pulse_column",
             "pulse_columns", "pulses_per_cycle", "nozzle", "reference_kPa", "film"});
  bank result{.name = from["name"].name(), .flow_mg_ms = from["flow_mg_ms"].positive()};
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
  result.pulse_columns = read_pulse_columns(from, cylinders);
  if (from.has("pulses_per_cycle")) result.pulses_per_cycle = static_cast<double>(from["pulses_per_cycle"].whole(1, 2));
  if (from.has("nozzle"))
    result.nozzle = one_of<fettle::nozzle_place>(from["nozzle"], {{"manifold", fettle::nozzle_place::manifold},  //
                                                                  {"ambient", fettle::nozzle_place::ambient}});
  if (from.has("reference_kPa")) result.reference_kpa = from["reference_kPa"].positive();
  if (from.has("film")) {
    const json_value film = from["film"];
    film.only({"share", "time_s"});
    result.film_share = film["share"].number(0, 0.95);
    result.film_time_s = film["time_s"].number(0.001, 10);
  }
  return result;
}

}  // namespace detail
}  // namespace session

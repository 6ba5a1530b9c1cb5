// SPDX-License-Identifier: MIT
#pragma once

#include <filesystem>

#include "common/session/choice.hpp"
#include "common/session/json_reader.hpp"
#include "common/session/session.hpp"

namespace session {
namespace detail {

inline void read_map(const json_value& from, const std::filesystem::path& folder, session& destination) {
  from.only({"file", "meaning", "air_pressure", "reference_kPa", "reference_degC", "pressure_exponent",
             "temperature_exponent"});
  using fettle::map_meaning;
  destination.map_path = folder / from["file"].path();
  destination.holds = one_of<map_meaning>(
      from["meaning"],
      {{"fuel_mg", map_meaning::fuel_mg}, {"ve_pct", map_meaning::ve_pct}, {"pulse_ms", map_meaning::pulse_ms}});
  map_air& air = destination.air;
  if (from.has("air_pressure"))
    air.is_in_manifold = one_of<bool>(from["air_pressure"], {{"ambient", false}, {"manifold", true}});
  if (from.has("reference_kPa")) air.reference_kpa = from["reference_kPa"].positive();
  if (from.has("reference_degC")) air.reference_degc = from["reference_degC"].number(-60, 150);
  if (from.has("pressure_exponent")) air.pressure_exponent = from["pressure_exponent"].number(0, 2);
  if (from.has("temperature_exponent")) air.temperature_exponent = from["temperature_exponent"].number(0, 2);
}

/// A commanded lambda: a number, or {"file": a map of it}.
[[nodiscard]] inline lambda_target read_target(const json_value& from, const std::filesystem::path& folder) {
  if (from.is_number()) return {.number = from.number(0.4, 2)};
  from.only({"file"});
  return {.number = {}, .map_path = folder / from["file"].path()};
}

[[nodiscard]] inline fuel_rail read_rail(const json_value& from) {
  from.only({"reading", "kPa"});
  using fettle::rail_reading;
  fuel_rail result{.reading = one_of<rail_reading>(from["reading"], {{"absolute", rail_reading::absolute},
                                                                     {"gauge", rail_reading::gauge},
                                                                     {"differential", rail_reading::differential}}),
                   .is_given = true};
  if (from.has("kPa")) result.kpa = from["kPa"].positive();
  return result;
}

}  // namespace detail
}  // namespace session

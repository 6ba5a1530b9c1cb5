// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <string>

#include "start_session/draft.hpp"

namespace start_session {
namespace detail {

using json = nlohmann::ordered_json;

/// A value with the reason why it was guessed beside it.
inline void put_guess(json& destination, const std::string& key, json value, const std::string& why) {
  destination[key] = std::move(value);
  destination["guess of " + key] = why;
}

[[nodiscard]] inline std::string relative_to(const std::filesystem::path& file, const std::filesystem::path& session) {
  const auto folder = std::filesystem::absolute(session).parent_path();
  return std::filesystem::absolute(file).lexically_relative(folder).generic_string();
}

[[nodiscard]] inline json columns_json(const std::vector<fettle::log_channel>& columns) {
  json result = json::object();
  for (const auto& column : columns)
    result[column.name] = {{"name", column.file_name}, {"factor", column.factor}, {"offset", column.offset}};
  return result;
}

[[nodiscard]] inline json engine_json(const request& from) {
  json engine = json::object();
  if (from.cylinders_are_given)
    engine["cylinders"] = static_cast<std::size_t>(from.car.cylinders);
  else
    put_guess(engine, "cylinders", static_cast<std::size_t>(from.car.cylinders), "not said; give --cylinders");
  if (from.displacement_is_given)
    engine["displacement_l"] = from.car.displacement_l;
  else
    put_guess(engine, "displacement_l", from.car.displacement_l, "not said; give --displacement-l");
  return engine;
}

[[nodiscard]] inline json banks_json(const draft& from) {
  json banks = json::array();
  for (std::size_t b = 0; b < from.session.banks.size(); ++b) {
    const auto& bank = from.session.banks[b];
    json entry{{"name", bank.name}};
    put_guess(entry, "flow_mg_ms", bank.flow_mg_ms, from.flow_guess[b]);
    put_guess(entry, "dead_time_ms", bank.dead_time_ms[0], from.dead_time_guess[b]);
    put_guess(entry, "smallest_pulse_ms", bank.smallest_pulse_ms, "common practice; take it from the data sheet");
    put_guess(entry, "largest_duty", bank.largest_duty, "common practice");
    if (bank.pulse_columns.size() == 1) entry["pulse_column"] = bank.pulse_columns[0];
    if (bank.pulse_columns.size() > 1) entry["pulse_columns"] = bank.pulse_columns;
    put_guess(entry, "pulses_per_cycle", 1, "most controllers inject once a cycle at load");
    put_guess(entry, "nozzle", b == 0 ? "manifold" : "ambient",
              "a primary bank sits in the port, a second one outside");
    entry["film"] = json::object();
    put_guess(entry["film"], "share", bank.film_share, "common practice; the logs correct it");
    put_guess(entry["film"], "time_s", bank.film_time_s, "common practice; the logs correct it");
    banks.push_back(std::move(entry));
  }
  return banks;
}

[[nodiscard]] inline json sensors_json(const request& asked, const draft& from) {
  json sensors = json::array();
  for (std::size_t i = 0; i < from.session.sensors.size(); ++i) {
    const auto& sensor = from.session.sensors[i];
    json entry{{"name", sensor.name}, {"column", sensor.column}};
    put_guess(entry, "cylinder", sensor.cylinders.empty() ? 0 : sensor.cylinders.front(), from.sensor_guess[i]);
    put_guess(entry, "lag_s", sensor.lag_s, "common practice; the logs correct it");
    put_guess(entry, "pipe_gas_mass_g", std::round(1e3 * sensor.pipe_gas_mass_g) / 1e3,
              asked.pipes_are_given
                  ? "pipes as given, gas at 1000 K; the logs correct it"
                  : "pipes of usual length and bore for this engine, gas at 1000 K; the logs correct it");
    entry["latency_s"] = 0;
    put_guess(entry, "lowest", sensor.lowest, "the usual rich end of a wide-band sensor");
    put_guess(entry, "highest", sensor.highest, "lean readings beyond are seldom measurements");
    sensors.push_back(std::move(entry));
  }
  return sensors;
}

[[nodiscard]] inline json logs_json(const request& asked, const draft& from) {
  json logs = json::array();
  for (const auto& log : from.logs) {
    json entry{{"file", relative_to(log.path, asked.out)}};
    const json columns = columns_json(log.columns);
    if (&log != &from.logs.front() && columns != columns_json(from.logs.front().columns)) entry["columns"] = columns;
    logs.push_back(std::move(entry));
  }
  return logs;
}

}  // namespace detail

/// The session file of a draft: every key, and beside each guess why.
[[nodiscard]] inline nlohmann::ordered_json session_json(const request& asked, const draft& from) {
  using detail::json, detail::put_guess;
  json result{{"title", from.session.title},
              {"comment", "written by start_session; a guess counts until its \"guess of\" line is deleted"}};
  result["engine"] = detail::engine_json(asked);
  result["fuel"] = json::object();
  if (asked.fuel_is_given)
    result["fuel"]["stoichiometric_afr"] = asked.car.stoichiometric_afr;
  else
    put_guess(result["fuel"], "stoichiometric_afr", asked.car.stoichiometric_afr, "petrol; give --stoichiometric-afr");
  put_guess(result["fuel"], "density_kg_m3", from.session.fuel_density_kg_m3, "petrol");
  result["banks"] = detail::banks_json(from);
  json& map = result["map"] = {{"file", detail::relative_to(asked.map, asked.out)}};
  if (from.meaning_guess.empty())
    map["meaning"] = from.meaning;
  else
    put_guess(map, "meaning", from.meaning, from.meaning_guess);
  const auto& air = from.session.air;
  put_guess(map, "air_pressure", air.is_in_manifold ? "manifold" : "ambient", "by the axes of the map");
  put_guess(map, "reference_kPa", air.reference_kpa, "not in the files: the air at which the map holds");
  put_guess(map, "reference_degC", air.reference_degc, "not in the files: the air at which the map holds");
  put_guess(map, "pressure_exponent", air.pressure_exponent, "density, as most controllers correct");
  put_guess(map, "temperature_exponent", air.temperature_exponent, "density, as most controllers correct");
  if (!from.target_is_logged)
    put_guess(result, "lambda_target", *from.session.target.number,
              "no column was recognised; a rich number costs less than a lean one. Give a number, or {\"file\": ...}");
  result["logs"] = detail::logs_json(asked, from);
  result["columns"] = detail::columns_json(from.logs.front().columns);
  result["sensors"] = detail::sensors_json(asked, from);
  result["path"] = json::object();
  put_guess(result["path"], "revolutions", from.session.revolutions,
            "from injection before the intake valve opens; "
            "the logs correct it");
  result["one_pass"] = {{"richer_pct", from.session.richer_pct}, {"leaner_pct", from.session.leaner_pct}};
  put_guess(result, "coldest_degC", from.session.coldest_degc, "a warm engine");
  return result;
}

}  // namespace start_session

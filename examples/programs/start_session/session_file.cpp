// SPDX-License-Identifier: MIT
#include "start_session/session_file.hpp"

#include <algorithm>
#include <cstddef>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <utility>
#include <vector>

#include "common/session/next_session.hpp"

namespace start_session {
namespace {

using json = nlohmann::ordered_json;

/// A value with the reason why it was guessed beside it.
void put_guess(json& destination, const std::string& key, json value, const std::string& why) {
  destination[key] = std::move(value);
  destination["guess of " + key] = why;
}

/// The name of a file as the session file to be written will hold it.
[[nodiscard]] std::string name_in_session(const std::filesystem::path& file, const request& request) {
  return session::path_seen_from(file, std::filesystem::absolute(request.out).parent_path());
}

[[nodiscard]] json columns_json(const std::vector<fettle::log_channel>& columns) {
  json result = json::object();
  for (const auto& column : columns)
    result[column.name] = {{"name", column.file_name}, {"factor", column.factor}, {"offset", column.offset}};
  return result;
}

[[nodiscard]] json engine_json(const request& from) {
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

[[nodiscard]] json banks_json(const draft& from) {
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

[[nodiscard]] json sensors_json(const request& request, const draft& from) {
  json sensors = json::array();
  for (std::size_t i = 0; i < from.session.sensors.size(); ++i) {
    const auto& sensor = from.session.sensors[i];
    json entry{{"name", sensor.name}, {"column", sensor.column}};
    put_guess(entry, "cylinder", sensor.cylinders.empty() ? 0 : sensor.cylinders.front(), from.sensor_guess[i]);
    put_guess(entry, "lag_s", sensor.lag_s, "common practice; the logs correct it");
    put_guess(entry, "pipe_gas_mass_g", std::round(1e3 * sensor.pipe_gas_mass_g) / 1e3,
              request.pipes_are_given
                  ? "pipes as given, gas at 1000 K; the logs correct it"
                  : "pipes of usual length and bore for this engine, gas at 1000 K; the logs correct it");
    entry["latency_s"] = 0;
    put_guess(entry, "lowest", sensor.lowest, "the usual rich end of a wide-band sensor");
    put_guess(entry, "highest", sensor.highest, "lean readings beyond are seldom measurements");
    sensors.push_back(std::move(entry));
  }
  return sensors;
}

/// Logs, and what their columns are called: in the session where that is the same for all, else in each log alone, for a
/// name of the session would count in a log that has the column under our own name.
void put_logs(json& destination, const request& request, const draft& from) {
  std::vector<json> columns;
  for (const auto& log : from.logs) columns.push_back(columns_json(log.columns));
  const bool are_alike =
      std::all_of(columns.begin(), columns.end(), [&](const json& each) { return each == columns.front(); });
  json& logs = destination["logs"] = json::array();
  for (std::size_t i = 0; i < columns.size(); ++i) {
    json entry{{"file", name_in_session(from.logs[i].path, request)}};
    if (!are_alike) entry["columns"] = columns[i];
    logs.push_back(std::move(entry));
  }
  if (are_alike) destination["columns"] = columns.front();
}

}  // namespace

std::string session_text(const request& request, const draft& from) {
  json result{{"title", from.session.title},
              {"comment", "written by start_session; a guess counts until its \"guess of\" line is deleted"}};
  result["engine"] = engine_json(request);
  result["fuel"] = json::object();
  if (request.fuel_is_given)
    result["fuel"]["stoichiometric_afr"] = request.car.stoichiometric_afr;
  else
    put_guess(result["fuel"], "stoichiometric_afr", request.car.stoichiometric_afr,
              "petrol; give --stoichiometric-afr");
  put_guess(result["fuel"], "density_kg_m3", from.session.fuel_density_kg_m3, "petrol");
  result["banks"] = banks_json(from);
  json& map = result["map"] = {{"file", name_in_session(request.map, request)}};
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
              "no column was recognised; a rich target is the safer guess. Give a number, or {\"file\": ...}");
  put_logs(result, request, from);
  result["sensors"] = sensors_json(request, from);
  result["path"] = json::object();
  put_guess(result["path"], "revolutions", from.session.revolutions,
            "from injection before the intake valve opens; the logs correct it");
  result["one_pass"] = {{"richer_pct", from.session.richer_pct}, {"leaner_pct", from.session.leaner_pct}};
  put_guess(result, "coldest_degC", from.session.coldest_degc, "a warm engine");
  return result.dump(2) + "\n";
}

}  // namespace start_session

// SPDX-License-Identifier: MIT
#include "virtual_engine/session.hpp"

#include <cstddef>
#include <nlohmann/json.hpp>

#include "virtual_engine/dice.hpp"
#include "virtual_engine/physics_json.hpp"

namespace virtual_engine {
namespace {

[[nodiscard]] nlohmann::ordered_json bank_json(const injector_bank& bank, const wall_film& film) {
  return {{"name", bank.name},
          {"flow_mg_ms", bank.flow_mg_ms},
          {"dead_time", {{"battery_v", injector_bank::battery_v}, {"ms", bank.dead_time_ms}}},
          {"smallest_pulse_ms", bank.smallest_pulse_ms},
          {"largest_duty", bank.largest_duty},
          {"pulse_column", "pulse_" + bank.name + "_ms"},
          {"film", {{"share", film.share}, {"time_s", film.time_s}}}};
}

[[nodiscard]] nlohmann::ordered_json sensor_json(const lambda_sensor& sensor) {
  return {{"name", sensor.name},           {"column", sensor.column}, {"cylinder", sensor.cylinder},
          {"latency_s", sensor.latency_s}, {"lag_s", sensor.lag_s},   {"pipe_gas_mass_g", sensor.pipe_gas_mass_g}};
}

}  // namespace

nlohmann::ordered_json session_json(const engine& e, const std::array<injector_bank, banks>& injectors,
                                    const std::vector<std::string>& log_files, bool cylinder_sensors, knowledge known,
                                    std::uint64_t seed) {
  dice draw{seed, 6};
  const auto guess = [&](double truth) {
    return known == knowledge::exact ? truth : std::nearbyint(truth * draw.uniform(0.75, 1.25) * 1e4) / 1e4;
  };
  nlohmann::ordered_json session{
      {"title", "Invented five-cylinder hill-climb engine, seed " + std::to_string(seed)},
      {"engine", {{"cylinders", cylinders}, {"displacement_l", displacement_l}}},
      {"fuel", {{"stoichiometric_afr", e.stoichiometric_afr}, {"density_kg_m3", e.fuel_density_kg_m3}}},
      {"banks", nlohmann::ordered_json::array()},
      {"map",
       {{"file", "fuel_map.csv"},
        {"meaning", "fuel_mg"},
        {"reference_kPa", reference_kpa},
        {"reference_degC", reference_degc}}},
      {"share_map", {{"file", "share_map.csv"}}},
      {"logs", nlohmann::ordered_json::array()},
      {"closed_loop", false},
      {"columns", nlohmann::ordered_json::object()},
      {"sensors", nlohmann::ordered_json::array()},
      {"path", {{"revolutions", guess(e.revolutions)}}},
      {"target", {{"power_kW", 200}, {"bsfc_g_per_kWh", 320}, {"duty", 0.85}}},
      {"virtual_engine", {{"seed", seed}}}};
  for (std::size_t b = 0; b < banks; ++b) {
    const wall_film film{guess(e.bank[b].film.share), guess(e.bank[b].film.time_s)};
    session["banks"].push_back(bank_json(injectors[b], film));
  }
  for (const auto& file : log_files) session["logs"].push_back({{"file", file}});
  for (std::size_t i = 0; i < (cylinder_sensors ? e.sensor.size() : 1); ++i) {
    lambda_sensor sensor = e.sensor[i];
    sensor.latency_s = guess(sensor.latency_s);
    sensor.lag_s = guess(sensor.lag_s);
    sensor.pipe_gas_mass_g = guess(sensor.pipe_gas_mass_g);
    auto entry = sensor_json(sensor);
    entry["lowest"] = sensor.lowest + 0.01;  // a little inside the rails: what lies beyond tells nothing
    entry["highest"] = sensor.highest - 0.05;
    session["sensors"].push_back(std::move(entry));
  }
  return session;
}

nlohmann::ordered_json truth_json(const engine& e, std::uint64_t seed) {
  nlohmann::ordered_json truth{{"seed", seed},
                               {"path", {{"revolutions", e.revolutions}}},
                               {"mixing_gain", e.mixing_gain},
                               {"banks", nlohmann::ordered_json::array()},
                               {"sensors", nlohmann::ordered_json::array()},
                               {"air_factors", nlohmann::ordered_json::array()}};
  for (const auto& bank : e.bank) truth["banks"].push_back(bank_json(bank, bank.film));
  for (const auto& sensor : e.sensor) {
    auto entry = sensor_json(sensor);
    entry["gain"] = sensor.gain;
    entry["noise"] = sensor.noise;
    entry["rate_hz"] = sensor.rate_hz;
    truth["sensors"].push_back(std::move(entry));
  }
  for (int rpm = 1000; rpm <= 9000; rpm += 500)
    truth["air_factors"].push_back({{"rpm", rpm}, {"cylinder", e.air_factors(rpm)}});
  if (!e.physics.empty()) truth["physics"] = physics_json(e);
  return truth;
}

}  // namespace virtual_engine

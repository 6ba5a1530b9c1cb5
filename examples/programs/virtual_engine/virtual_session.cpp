// SPDX-License-Identifier: MIT
#include "virtual_engine/virtual_session.hpp"

#include <cstddef>
#include <utility>
#include <vector>

namespace virtual_session {

session::sensor described(const virtual_engine::lambda_sensor& sensor) {
  return {.name = sensor.name,
          .column = sensor.column,
          .cylinders = sensor.cylinder == 0 ? std::vector<std::size_t>{} : std::vector<std::size_t>{sensor.cylinder},
          .latency_s = sensor.latency_s,
          .lag_s = sensor.lag_s,
          .pipe_gas_mass_g = sensor.pipe_gas_mass_g,
          .lowest = sensor.lowest + 0.01,
          .highest = sensor.highest - 0.01};
}

session::session of_engine(const virtual_engine::engine& e) {
  session::session result;
  result.title = "virtual engine";
  result.cylinders = virtual_engine::cylinders;
  result.displacement_l = virtual_engine::displacement_l;
  result.stoichiometric_afr = e.stoichiometric_afr;
  result.fuel_density_kg_m3 = e.fuel_density_kg_m3;
  for (const auto& bank : e.bank)
    result.banks.push_back({.name = bank.name,
                            .flow_mg_ms = bank.flow_mg_ms,
                            .battery_v = {bank.battery_v.begin(), bank.battery_v.end()},
                            .dead_time_ms = {bank.dead_time_ms.begin(), bank.dead_time_ms.end()},
                            .smallest_pulse_ms = bank.smallest_pulse_ms,
                            .largest_duty = bank.largest_duty,
                            .pulse_columns = {"pulse_" + bank.name + "_ms"},
                            .film_share = bank.film.share,
                            .film_time_s = bank.film.time_s});
  result.sensors.push_back(described(e.sensor[0]));
  result.revolutions = e.revolutions;
  result.loop_is_closed = false;
  return result;
}

void add_pipe_sensors(session::session& to, const virtual_engine::engine& e) {
  for (std::size_t i = 1; i <= virtual_engine::cylinders; ++i) to.sensors.push_back(described(e.sensor[i]));
}

fettle::map_file as_file(fettle::dynamic_table<double> table) {
  return {.axis_names = {"rpm", "throttle_pct"}, .table = std::move(table), .descending = {false, false}};
}

}  // namespace virtual_session

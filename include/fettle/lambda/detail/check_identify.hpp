// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <cstddef>
#include <string>
#include <vector>

#include "fettle/error.hpp"
#include "fettle/lambda/detail/check_cylinders.hpp"
#include "fettle/lambda/dynamics.hpp"
#include "fettle/lambda/identify_options.hpp"
#include "fettle/lambda/recording.hpp"
#include "fettle/map/dynamic_table.hpp"

namespace fettle::detail {

inline void check_sensor(const sensor_trace& sensor, const recording& log) {
  const std::string name = "identify: sensor " + sensor.name;
  if (!(sensor.flow_share > 0 && sensor.flow_share <= 1))
    throw error(name + " is passed by a share of " + std::to_string(sensor.flow_share) +
                " of the exhaust; give more than 0 and at most 1");
  check_cylinders(name, sensor.cylinders, static_cast<std::size_t>(log.cylinders));
}

inline void check_identify(const std::vector<recording>& logs, const dynamic_table<double>& base, const dynamics& start,
                           const trim_shape& trims) {
  start.check();
  if (trims.axes.size() > 2) throw error("identify: a trim map has two axes at most");
  if (trims.along.size() != trims.axes.size())
    throw error("identify: say for each axis of the trim maps which coordinate it reads");
  if (logs.empty()) throw error("identify: there is no log");
  if (base.rank() < 1) throw error("identify: the map needs at least one axis");
  for (std::size_t i = 0; i < base.size(); ++i)
    if (!(base.values()[i] > 0) || !std::isfinite(base.values()[i]))
      throw error("identify: cell " + std::to_string(i) + " of the map is " + std::to_string(base.values()[i]) +
                  "; every cell must be above zero");
  for (const auto& log : logs) {
    if (log.at.size() != base.rank())
      throw error("identify: log " + log.name + " has another number of map coordinates than the map has axes");
    if (log.fuel_mg.size() != start.banks.size())
      throw error("identify: log " + log.name + " has another number of banks than the dynamics");
    if (log.sensors.size() != start.sensors.size())
      throw error("identify: log " + log.name + " has another number of sensors than the dynamics");
    for (const auto& sensor : log.sensors) check_sensor(sensor, log);
    for (const std::size_t a : trims.along)
      if (a >= log.at.size())
        throw error("identify: an axis of the trim maps reads coordinate " + std::to_string(a) + " of log " + log.name +
                    ", which has " + std::to_string(log.at.size()));
  }
}

}  // namespace fettle::detail

// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include "common/session/log_conditions.hpp"
#include "common/session/log_maps.hpp"
#include "common/session/map_basis.hpp"
#include "common/session/session.hpp"
#include "fettle/error.hpp"
#include "fettle/fuel/delivered.hpp"
#include "fettle/fuel/need.hpp"
#include "fettle/io/log_table.hpp"
#include "fettle/io/map_file.hpp"
#include "fettle/io/text.hpp"
#include "fettle/map/dynamic_interpolate.hpp"

namespace session {

/// Fuel of every row of a log, in mg per cylinder and cycle.
struct log_fuel {
  std::vector<double> target_lambda;
  std::vector<double> need_mg;   ///< what map and trims under correction ask for at lambda 1, mean of the cylinders
  std::vector<double> asked_mg;  ///< what the controller asked for, by the map and the trims that were loaded
  bool pulses_are_logged = false;
  std::vector<std::vector<double>> delivered_mg;   ///< one series per bank; without pulses: `asked_mg`, by the first
  std::vector<double> shortest_open_ms;            ///< of the open injectors; empty without pulses
  std::vector<std::vector<double>> nozzle_factor;  ///< of each bank's flow, by the pressure over its nozzles
};

/// Values of a map along a log.
[[nodiscard]] std::vector<double> values_along(const fettle::map_file& map, const fettle::log_table& log,
                                               const std::string& name);

/// The mean of all cylinders' trims along a log.
[[nodiscard]] std::vector<double> mean_along(const trim_maps& trims, const fettle::log_table& log,
                                             const std::string& name);

/// The fuel of every row of a log, by the laws of `fuel`.
///
/// @param setup  the session as it was during this log.
/// @param base  the map under correction.
/// @param maps  the other maps of this log.
/// Errors: `fettle::error` when a column that is needed is not there, the commanded lambda is not known, or a bank has
///         no pressure over its nozzle.
[[nodiscard]] log_fuel read_fuel(const session& setup, const fettle::map_file& base, const log_maps& maps,
                                 const fettle::log_table& log, const log_conditions& now);

}  // namespace session

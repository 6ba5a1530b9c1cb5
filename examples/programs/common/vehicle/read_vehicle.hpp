// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

#include "common/session/json_reader.hpp"
#include "common/session/read_column.hpp"
#include "fettle/io/log_csv.hpp"
#include "fettle/vehicle/motion.hpp"

namespace vehicle {

/// A car with its gears, as a session file describes it.
struct described_car {
  fettle::car<double> car{};
  std::vector<fettle::driveline<double>> gears{};  ///< from the first
  bool has_road_load = false, has_engine_inertia = false;
};

/// Reads a car: mass, what turns, gears from the first on, and its road load where it is known.
///
/// Errors: `fettle::error` naming the place, what was found and what is expected: a mass or radius that is not positive,
///         a negative inertia, ratios that do not fall from gear to gear.
[[nodiscard]] described_car read_vehicle(const session::json_value& from);

/// Columns of a log of a pull or a coast-down.
inline constexpr std::array<std::string_view, 10> pull_columns{"time_s",       "rpm",         "speed_kmh", "torque_nm",
                                                               "throttle_pct", "grade_pct",   "air_kPa",   "air_degC",
                                                               "humidity_pct", "coolant_degC"};

/// Reads how columns are called in the logs: {"rpm": {"name": "n", "factor": 1, "offset": 0}}.
template <std::size_t N>
[[nodiscard]] std::vector<fettle::log_channel> read_columns(const session::json_value& from,
                                                            const std::array<std::string_view, N>& known) {
  std::vector<fettle::log_channel> result;
  for (const auto& [name, column] : from.members()) {
    bool is_known = false;
    std::string list;
    for (const auto each : known) {
      is_known = is_known || each == name;
      list += (list.empty() ? "" : ", ") + std::string(each);
    }
    if (!is_known) column.refuse("is not a column known here; known are " + list);
    result.push_back(session::read_column(name, column));
  }
  return result;
}

}  // namespace vehicle

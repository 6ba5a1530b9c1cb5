// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "fettle/fuel/delivered.hpp"
#include "fettle/fuel/need.hpp"
#include "fettle/io/log_csv.hpp"

namespace session {

/// One injector per cylinder, as described by the tuner.
struct bank {
  std::string name;
  double flow_mg_ms = 0;
  std::vector<double> battery_v{}, dead_time_ms{};  ///< a curve; one dead time and no voltage: a constant
  double smallest_pulse_ms = 0;
  double largest_duty = 0.85;
  std::vector<std::string> pulse_columns{};  ///< one, or one per cylinder; empty: not logged
  double pulses_per_cycle = 1;
  fettle::nozzle_place nozzle = fettle::nozzle_place::manifold;
  double reference_kpa = 0;  ///< pressure drop at which the flow holds; 0: the log's fuel pressure is not used
  double film_share = 0;     ///< 0: no film
  double film_time_s = 0.1;
};

/// A wide-band sensor and its way.
struct sensor {
  std::string name, column;
  std::vector<std::size_t> cylinders{};  ///< whose exhaust passes it, 1 ..; empty: that of all
  bool is_fitted = true;                 ///< false: not in this run, its column is not read
  bool is_calibrated = false;
  double latency_s = 0, lag_s = 0, pipe_gas_mass_g = 0;
  double lowest = 0.65, highest = 1.6;
};

/// Where a sensor sat during one log.
struct seat {
  std::size_t sensor = 0;
  bool is_fitted = true;
  std::vector<std::size_t> cylinders{};  ///< whose exhaust passes it, 1 ..; empty: that of all
};

/// How cylinders are trimmed.
struct trimming {
  std::vector<std::string> axes{};                 ///< of the trim maps: names of axes of the map, two at most
  std::vector<std::vector<double>> points{};       ///< of each
  bool axes_are_given = false;                     ///< else coarse steps along the map's first axis
  double richer_pct = 5, leaner_pct = 3;           ///< most change of one pass
  double lean_alarm_pct = 3;                       ///< a cylinder this far above the target is called out
  std::vector<std::filesystem::path> map_paths{};  ///< trims to correct, one per cylinder; empty: none
};

/// How the fuel rail's pressure is known.
struct fuel_rail {
  fettle::rail_reading reading = fettle::rail_reading::differential;
  bool is_given = false;        ///< false: the session does not say how the rail is read
  std::optional<double> kpa{};  ///< where the log has no fuel_kPa
};

/// The air by which the controller scales the map.
struct map_air {
  bool is_in_manifold = false;  ///< true: manifold_kPa, as in speed-density; false: air_kPa
  double reference_kpa = 100, reference_degc = 25;
  double pressure_exponent = 1, temperature_exponent = 1;
};

/// The lambda that was commanded: a number, else a map, else the log's column lambda_target.
struct lambda_target {
  std::optional<double> number{};
  std::filesystem::path map_path{};
};

/// What one log has of its own.
struct log_facts {
  std::vector<seat> seats{};                   ///< sensors that sat elsewhere than `sensors` says
  std::vector<fettle::log_channel> columns{};  ///< before those of the session
  std::filesystem::path loaded_map_path{};     ///< the map the controller ran on; empty: the session's map
  double map_factor = 1;                       ///< by which the controller multiplied that map all the time
  std::optional<std::vector<std::filesystem::path>> loaded_trim_paths{};  ///< nothing: the session's trims
  std::optional<lambda_target> target{};
  std::optional<bool> loop_is_closed{};
};

/// What the engine is to make, and so what its injectors must carry.
struct power_goal {
  double power_kw = 0;
  double bsfc_g_per_kwh = 320;  ///< brake specific fuel consumption at full load
  double duty = 0.85;           ///< allowed at that power
  double speed_rpm = 0;         ///< of that power; 0: the fastest of the map
};

/// What a plan for the second bank must respect, and how it comes in.
struct staging_settings {
  double wanted_share = 0.5;      ///< of the second bank where nothing forbids it
  double primary_reserve = 0.05;  ///< duty left free
  double battery_v = 12;          ///< lowest to be expected with the engine running
  double richest_lambda = 0.88;   ///< fuel demand is planned for this mixture
  double slowest_rpm = 3500;      ///< below this speed the second bank stays shut
  std::vector<double> guard_rpm{1000, 9000}, guard_throttle_pct{25, 35};  ///< below this throttle too
  double steepest_per_1000rpm = 0.15, steepest_per_throttle_pct = 0.01;   ///< change of share over the map
  double film_error = 0.2;          ///< by what fraction film shares and times may be wrong
  double lambda_excursion = 0.015;  ///< allowed by such films while fuel moves between the banks, as a fraction
};

/// A tuner's session: an engine, its fuel system, a map, logs, and how to read them.
struct session {
  std::filesystem::path path{};  ///< the file that says all this
  std::string title;
  std::size_t cylinders = 0;
  double displacement_l = 0;
  double stoichiometric_afr = 14.6;
  double fuel_density_kg_m3 = 745;
  std::vector<bank> banks;
  fuel_rail rail{};
  std::filesystem::path map_path;
  fettle::map_meaning holds = fettle::map_meaning::fuel_mg;
  map_air air{};
  lambda_target target{};
  std::optional<bool> loop_is_closed{};                    ///< the controller's closed loop; nothing: not said
  std::filesystem::path loaded_map_path{};                 ///< of one log, see `log_facts`
  double map_factor = 1;                                   ///< of one log
  std::vector<std::filesystem::path> loaded_trim_paths{};  ///< of one log, one per cylinder; empty: none
  std::filesystem::path share_map_path{};                  ///< empty: none
  std::filesystem::path usage_map_path{};                  ///< empty: how long the logs ran at each cell
  std::vector<std::filesystem::path> log_paths;
  std::vector<log_facts> facts{};              ///< one per log
  bool is_strict = false;                      ///< logs must be plain CSV: nothing about their layout is guessed
  std::vector<std::string> guesses{};          ///< values that whoever wrote the session only guessed, and why
  std::vector<fettle::log_channel> columns{};  ///< those whose name or unit differs from ours
  std::vector<sensor> sensors;
  double revolutions = 1.5;
  double richer_pct = 15, leaner_pct = 5;  ///< most change of one pass
  double coldest_degc = 60;
  std::optional<power_goal> goal{};
  staging_settings staging{};
  std::optional<std::uint64_t> virtual_engine_seed{};  ///< the session of an invented engine
  trimming trims{};

  /// Every file that the session is read from or names.
  [[nodiscard]] std::vector<std::filesystem::path> files() const {
    std::vector<std::filesystem::path> result{path, map_path};
    for (const auto* other : {&share_map_path, &usage_map_path, &target.map_path})
      if (!other->empty()) result.push_back(*other);
    result.insert(result.end(), log_paths.begin(), log_paths.end());
    result.insert(result.end(), trims.map_paths.begin(), trims.map_paths.end());
    for (const auto& log : facts) {
      if (!log.loaded_map_path.empty()) result.push_back(log.loaded_map_path);
      if (log.loaded_trim_paths)
        result.insert(result.end(), log.loaded_trim_paths->begin(), log.loaded_trim_paths->end());
      if (log.target && !log.target->map_path.empty()) result.push_back(log.target->map_path);
    }
    return result;
  }

  /// The session as it was during one log: sensors where they sat, columns by their names there, what was loaded.
  [[nodiscard]] session during(std::size_t log) const {
    session result = *this;
    const log_facts& own = facts[log];
    for (const auto& seat : own.seats) {
      result.sensors[seat.sensor].is_fitted = seat.is_fitted;
      if (seat.is_fitted) result.sensors[seat.sensor].cylinders = seat.cylinders;
    }
    result.columns.insert(result.columns.begin(), own.columns.begin(), own.columns.end());
    result.loaded_map_path = own.loaded_map_path;
    result.map_factor = own.map_factor;
    result.loaded_trim_paths = own.loaded_trim_paths.value_or(trims.map_paths);
    if (own.target) result.target = *own.target;
    if (own.loop_is_closed) result.loop_is_closed = own.loop_is_closed;
    return result;
  }
};

}  // namespace session

// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <nlohmann/json.hpp>
#include <optional>
#include <span>
#include <string>
#include <tuple>
#include <utility>
#include <vector>

#include "common/report/cell_states.hpp"
#include "common/session/recording.hpp"
#include "fettle/lambda.hpp"
#include "fettle/map/interpolate.hpp"
#include "virtual_engine/simulate.hpp"
#include "virtual_engine/stage_drive.hpp"
#include "virtual_engine/virtual_session.hpp"

namespace laboratory {

/// The invented car, one drive with the map that it came with, and what its tuner assumes.
struct invented_drive {
  virtual_engine::engine engine;
  virtual_engine::map base;
  session::session session;
  fettle::recording log;

  /// Fuel that the engine needs over what a map gives, standing still at the operating point of a row: the truth.
  [[nodiscard]] double needed(const virtual_engine::map& map, std::size_t row) const {
    const double rpm = log.at[0][row], throttle_pct = log.at[1][row];
    return engine.ideal_fuel_mg(rpm, throttle_pct) / fettle::interpolate(map.view<2>(), rpm, throttle_pct);
  }
};

/// A drive on a stage.
///
/// @param factor  by which the tuner's delays, films and pipe are off.
[[nodiscard]] inline invented_drive driven(std::uint64_t seed, double minutes, double factor) {
  using namespace virtual_engine;
  const engine e = engine::from_seed(seed);
  const map base = base_fuel_map(e, seed);
  const auto table = simulate(e, alpha_n_controller(e, seed), stage_drive(seed, minutes), {.seed = seed}).log;
  auto session = virtual_session::of_engine(e);
  session.revolutions *= factor;
  for (auto& bank : session.banks) {
    bank.film_share = (std::min)(bank.film_share * factor, 0.85);
    bank.film_time_s *= factor;
  }
  for (auto& sensor : session.sensors) {
    sensor.latency_s *= factor;
    sensor.lag_s *= factor;
    sensor.pipe_gas_mass_g *= factor;
  }
  auto log = session::make_recording(session, virtual_session::as_file(base), table, "drive").log;
  return {e, base, std::move(session), std::move(log)};
}

/// The drive that was asked for last: to drive takes longer than to answer.
[[nodiscard]] inline const invented_drive& driven_once(std::uint64_t seed, double minutes, double factor) {
  const std::tuple key{seed, minutes, factor};
  static std::tuple<std::uint64_t, double, double> last_key;
  static std::optional<invented_drive> last;
  if (!last || last_key != key) {
    last.emplace(driven(seed, minutes, factor));
    last_key = key;
  }
  return *last;
}

/// A map times a correction of each cell.
[[nodiscard]] inline virtual_engine::map corrected(virtual_engine::map map, std::span<const double> correction) {
  for (std::size_t k = 0; k < map.size(); ++k) map.values()[k] *= correction[k];
  return map;
}

/// Lambda over its target, less 1, over all rows of a drive with fuel, engine standing still, in percent: its root mean
/// square, and the share of rows that are more than 3 % lean.
[[nodiscard]] inline nlohmann::json error_of(const invented_drive& drive, const virtual_engine::map& map) {
  double squares = 0, lean = 0, count = 0;
  for (std::size_t i = 0; i < drive.log.rows(); ++i) {
    if (drive.log.fuel_cut[i] != 0) continue;
    const double error = drive.needed(map, i) - 1;
    squares += error * error;
    lean += error > 0.03;
    ++count;
  }
  return {{"rms_pct", 100 * std::sqrt(squares / count)}, {"lean_pct", 100 * lean / count}};
}

/// Breakpoints of a map, for a drawing.
[[nodiscard]] inline nlohmann::json axes_json(const virtual_engine::map& map) {
  const auto points = [&](std::size_t axis) {
    const auto all = map.axes()[axis].points();
    return std::vector<double>(all.begin(), all.end());
  };
  return {{"speed_rpm", points(0)}, {"throttle_pct", points(1)}};
}

/// Factors as percent more than 1.
[[nodiscard]] inline std::vector<double> as_pct(std::span<const double> factors) {
  std::vector<double> result;
  for (const double factor : factors) result.push_back(100 * (factor - 1));
  return result;
}

/// What each cell of a map needs over what it has, in percent, of the engine itself.
[[nodiscard]] inline std::vector<double> truth_pct(const invented_drive& drive, const virtual_engine::map& map) {
  std::vector<double> result;
  const auto ideal = virtual_engine::ideal_fuel_map(drive.engine);
  for (std::size_t k = 0; k < map.size(); ++k) result.push_back(100 * (ideal.values()[k] / map.values()[k] - 1));
  return result;
}

/// Names of the states of all cells.
[[nodiscard]] inline std::vector<std::string> state_names(const fettle::decision& decided) {
  std::vector<std::string> result;
  for (const auto state : decided.state) result.emplace_back(report::key_of(state));
  return result;
}

}  // namespace laboratory

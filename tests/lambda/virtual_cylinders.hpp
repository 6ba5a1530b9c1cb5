// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <string>
#include <vector>

#include "common/session/recording.hpp"
#include "fettle/fit/fit_table.hpp"
#include "fettle/lambda/identify.hpp"
#include "virtual_engine/controller.hpp"
#include "virtual_engine/dyno_drive.hpp"
#include "virtual_engine/maps.hpp"
#include "virtual_engine/simulate.hpp"
#include "virtual_engine/virtual_session.hpp"

namespace virtual_cylinders {

/// Runs of the virtual engine between which its sensors moved.
struct runs {
  virtual_engine::engine engine;
  fettle::dynamic_table<double> base;
  std::vector<fettle::recording> logs;
  fettle::dynamics with;
};

/// The recording of one run; cylinder[j] is where sensor j+1 sits, 0: not fitted.
inline fettle::recording one_run(virtual_engine::engine e, std::uint64_t seed, const std::vector<std::size_t>& cylinder,
                                 const virtual_engine::drive& world, std::size_t run) {
  auto session = virtual_session::of_engine(e);
  for (std::size_t j = 0; j < virtual_engine::cylinders; ++j) {
    auto& sensor = e.sensor[j + 1];
    sensor.cylinder = j < cylinder.size() && cylinder[j] > 0 ? cylinder[j] : 1;
    session.sensors.push_back(virtual_session::described(sensor));
  }
  const auto log = virtual_engine::simulate(e, virtual_engine::alpha_n_controller{e, seed}, world,
                                            {.cylinder_sensors = true, .seed = seed + 1000 * (run + 1)})
                       .log;
  auto result = session::make_recording(session, virtual_session::as_file(virtual_engine::base_fuel_map(e, seed)), log,
                                        "run " + std::to_string(run + 1))
                    .log;
  for (std::size_t j = virtual_engine::cylinders; j-- > 0;)
    if (j >= cylinder.size() || cylinder[j] == 0)
      std::fill(result.sensors[j + 1].lambda.begin(), result.sensors[j + 1].lambda.end(), std::nan(""));
  return result;
}

inline runs rotated_runs(std::uint64_t seed, const std::vector<std::vector<std::size_t>>& cylinder, double minutes) {
  const auto e = virtual_engine::engine::from_seed(seed);
  runs result{.engine = e, .base = virtual_engine::base_fuel_map(e, seed), .logs = {}, .with = {}};
  for (std::size_t r = 0; r < cylinder.size(); ++r)
    result.logs.push_back(one_run(e, seed, cylinder[r], virtual_engine::dyno_drive(seed + r, minutes), r));
  auto session = virtual_session::of_engine(e);
  for (std::size_t j = 1; j <= virtual_engine::cylinders; ++j)
    session.sensors.push_back({.name = e.sensor[j].name,
                               .column = e.sensor[j].column,
                               .cylinders = {j},
                               .latency_s = e.sensor[j].latency_s,
                               .lag_s = e.sensor[j].lag_s,
                               .pipe_gas_mass_g = e.sensor[j].pipe_gas_mass_g});
  session.sensors[0].is_calibrated = true;
  result.with = session::make_dynamics(session, session::path_trust::prior);
  return result;
}

inline fettle::identify_options speed_options() {
  return {
      .screen = {.after_cut_s = 0.5},
      .trims = {.axes = {*fettle::dynamic_axis<double>::from({1000, 2000, 3000, 4000, 5000, 6000, 7000, 8000, 9000})},
                .along = {0}}};
}

inline fettle::identification identified(const runs& runs, const fettle::identify_options& options = speed_options()) {
  return fettle::identify(runs.logs, runs.base, runs.with, options);
}

inline fettle::cylinder_trims estimated_trims(const runs& runs,
                                              const fettle::identify_options& options = speed_options()) {
  return identified(runs, options).cylinders;
}

/// Root mean square of found over true trim, less 1, over speeds that were driven.
inline double rms_error(const runs& runs, const fettle::cylinder_trims& trims) {
  double squares = 0, count = 0;
  const auto& speeds = trims.axes.front().points();
  for (std::size_t k = 0; k < speeds.size(); ++k) {
    if (!(trims.seconds[k] > 5)) continue;
    const auto truth = runs.engine.air_factors(speeds[k]);
    for (std::size_t i = 0; i < truth.size(); ++i) {
      const double error = trims.correction[i][k] / truth[i] - 1;
      squares += error * error;
      ++count;
    }
  }
  return std::sqrt(squares / count);
}

/// Trims over these speeds whose straight lines come nearest to the truth where the engine ran: what best could be
/// found. Shape: [cylinder][speed].
inline std::vector<std::vector<double>> best_trims(const runs& runs, const std::vector<double>& speeds) {
  const auto axis = *fettle::dynamic_axis<double>::from(speeds);
  std::vector<double> driven_rpm;
  std::vector<std::vector<double>> truth(virtual_engine::cylinders);
  for (const auto& log : runs.logs)
    for (std::size_t i = 0; i < log.rows(); ++i) {
      if (!(log.fuel_mg[0][i] > 0)) continue;
      driven_rpm.push_back(log.at[0][i]);
      const auto factors = runs.engine.air_factors(driven_rpm.back());
      for (std::size_t c = 0; c < truth.size(); ++c) truth[c].push_back(factors[c]);
    }
  std::vector<std::vector<double>> result;
  for (const auto& factors : truth) {
    const auto best = fettle::fit_table({axis}, driven_rpm, factors, {}, {.smooth = std::vector<double>{1e-9}}).table;
    result.emplace_back(best.values().begin(), best.values().end());
  }
  return result;
}

}  // namespace virtual_cylinders

// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <span>
#include <sstream>
#include <string>
#include <utility>
#include <vector>

#include "common/session/recording.hpp"
#include "fettle/lambda.hpp"
#include "fettle/map/interpolate.hpp"
#include "virtual_engine/controller.hpp"
#include "virtual_engine/dyno_drive.hpp"
#include "virtual_engine/maps.hpp"
#include "virtual_engine/physics.hpp"
#include "virtual_engine/simulate.hpp"
#include "virtual_engine/stage_drive.hpp"
#include "virtual_engine/virtual_session.hpp"

namespace correction_table {

/// What a log is made under.
struct conditions {
  std::string drive = "stage";  ///< or dyno
  double minutes = 15;
  std::string sensors = "collector";  ///< or pipes: one in each pipe besides
  std::vector<std::string> physics;   ///< that the library's model lacks
  bool has_noise = true;
  std::size_t cells = 1;    ///< into how many an interval of the map's axes is divided
  double start_factor = 1;  ///< how wrong the session's delays and films are
};

/// One case of physics: none, all, one word or several with commas between them.
[[nodiscard]] inline std::vector<std::string> physics_of(const std::string& words) {
  std::vector<std::string> result;
  std::istringstream in(words);
  for (std::string word; std::getline(in, word, ',');)
    if (word != "none") result.push_back(word);
  virtual_engine::engine any;
  virtual_engine::add_physics(any, result, 1);  // refuses what it does not know before the work begins
  return result;
}

/// One engine, one log, and what is known of the truth.
struct trial {
  virtual_engine::engine engine;
  fettle::dynamic_table<double> base;
  session::session session;
  fettle::recording log;

  [[nodiscard]] bool burns(std::size_t row) const { return log.fuel_cut[row] == 0; }

  /// Fuel that the engine needs over what the map gives, at the operating point of a row, standing still.
  [[nodiscard]] double needed(std::size_t row) const { return needed(row, base); }
  [[nodiscard]] double needed(std::size_t row, const fettle::dynamic_table<double>& map) const {
    return engine.ideal_fuel_mg(log.at[0][row], log.at[1][row]) /
           fettle::interpolate(map.view<2>(), log.at[0][row], log.at[1][row]);
  }

  [[nodiscard]] fettle::dynamic_table<double> corrected(std::span<const double> correction) const {
    fettle::dynamic_table<double> map = base;
    for (std::size_t k = 0; k < map.size(); ++k) map.values()[k] *= correction[k];
    return map;
  }
};

/// What a map would leave at the driven points with fuel, engine standing still: lambda over its target, less 1.
struct lambda_errors {
  double rms_pct = 0;
  double lean_pct = 0;    ///< share of the points that are more than 3 % lean
  double over_2_pct = 0;  ///< the same of 2 %
};

[[nodiscard]] inline lambda_errors errors_of(const trial& trial, std::span<const double> correction) {
  const auto map = trial.corrected(correction);
  double squares = 0, lean = 0, over_2 = 0, count = 0;
  for (std::size_t i = 0; i < trial.log.rows(); ++i) {
    if (!trial.burns(i)) continue;
    const double error = trial.needed(i, map) - 1;
    squares += error * error;
    lean += error > 0.03;
    over_2 += error > 0.02;
    ++count;
  }
  return {100 * std::sqrt(squares / count), 100 * lean / count, 100 * over_2 / count};
}

namespace detail {

/// The same map with every interval of its axes divided evenly: no value between breakpoints changes.
[[nodiscard]] inline fettle::dynamic_table<double> refined(const fettle::dynamic_table<double>& map,
                                                           std::size_t parts) {
  const auto divided = [parts](const std::vector<double>& points) {
    std::vector<double> result;
    for (std::size_t i = 0; i + 1 < points.size(); ++i)
      for (std::size_t part = 0; part < parts; ++part)
        result.push_back(points[i] +
                         (points[i + 1] - points[i]) * static_cast<double>(part) / static_cast<double>(parts));
    result.push_back(points.back());
    return result;
  };
  const auto points = [&](std::size_t axis) {
    const auto all = map.axes()[axis].points();
    return divided({all.begin(), all.end()});
  };
  return virtual_engine::sampled({.rpm = points(0), .throttle_pct = points(1)}, [&](double rpm, double throttle_pct) {
    return fettle::interpolate(map.view<2>(), rpm, throttle_pct);
  });
}

/// The session as a tuner who is off by a factor in every delay and film would have written it.
inline void mistake(session::session& session, double factor) {
  session.revolutions *= factor;
  for (auto& bank : session.banks) {
    bank.film_share = std::min(bank.film_share * factor, 0.85);
    bank.film_time_s *= factor;
  }
  for (auto& sensor : session.sensors) {
    sensor.latency_s *= factor;
    sensor.lag_s *= factor;
    sensor.pipe_gas_mass_g *= factor;
  }
}

}  // namespace detail

[[nodiscard]] inline trial make_trial(std::uint64_t seed, const conditions& under) {
  using namespace virtual_engine;
  engine e = engine::from_seed(seed);
  add_physics(e, under.physics, seed);
  const auto driven = under.drive == "dyno" ? dyno_drive(seed, under.minutes) : stage_drive(seed, under.minutes);
  const bool has_pipes = under.sensors == "pipes";
  const auto log = simulate(e, alpha_n_controller(e, seed), driven,
                            {.cylinder_sensors = has_pipes, .noise = under.has_noise, .seed = seed})
                       .log;
  auto base = detail::refined(base_fuel_map(e, seed), under.cells);
  auto session = virtual_session::of_engine(e);
  if (has_pipes) virtual_session::add_pipe_sensors(session, e);
  auto recording = session::make_recording(session, virtual_session::as_file(base), log, "virtual engine").log;
  detail::mistake(session, under.start_factor);
  return {std::move(e), std::move(base), std::move(session), std::move(recording)};
}

}  // namespace correction_table

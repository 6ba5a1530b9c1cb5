// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "fettle/lambda/detail/quarters.hpp"
#include "fettle/lambda/identification.hpp"
#include "fettle/lambda/reading_model.hpp"

namespace fettle {

/// Lambda errors (lambda over target, less 1) of the readings that counted: as they were, and as they would have been
/// with the corrected map.
///
/// `map_*`, for every reading that counted: the map's own share, the error that would remain at that point if the
/// engine stood still there. `read_*`, for those taken while the wall films were near rest: what the sensor shows,
/// noise included. While the films fill or empty, lambda is off whatever the map, and no map can mend it.
struct forecast {
  std::vector<double> map_before, map_after;
  std::vector<double> read_time_s, read_before, read_after;
  std::vector<double> read_step_s;            ///< since the row before each of these
  std::vector<std::uint32_t> read_quarter{};  ///< of a cell of the map, where their gas was made; see `lean_places`

  /// Adds what comes later in the same log.
  void append(const forecast& later) {
    for (const auto series : {&forecast::map_before, &forecast::map_after, &forecast::read_time_s,
                              &forecast::read_before, &forecast::read_after, &forecast::read_step_s})
      (this->*series).insert((this->*series).end(), (later.*series).begin(), (later.*series).end());
    read_quarter.insert(read_quarter.end(), later.read_quarter.begin(), later.read_quarter.end());
  }
};

/// Root mean square of a series; 0 for an empty one.
[[nodiscard]] inline double rms(std::span<const double> series) noexcept {
  double sum = 0;
  for (const double x : series) sum += x * x;
  return series.empty() ? 0.0 : std::sqrt(sum / static_cast<double>(series.size()));
}

/// What a correction would have done to one sensor's readings of one log.
///
/// @param applied  per cell of the map: new value over old.
[[nodiscard]] inline forecast predict_errors(const recording& log, const dynamic_table<double>& base,
                                             std::size_t sensor, const identification& identified,
                                             std::span<const double> applied, const screening& limits) {
  const reading_model model(log, base);
  const auto origin = model.origin_of(sensor, identified.correction, identified.with);
  const auto& from = origin.from;
  const auto rejected =
      detail::screen_sensor(log, log.sensors[sensor], detail::screen_rows(log, base.axes(), limits), from, limits);
  const auto& needed = origin.correction;
  const auto given = model.correction_at_rows(applied);
  constexpr double near_rest = 0.02;  // of the fuel asked for
  const std::vector<double> uncorrected = model.arrived(origin.uncorrected, from, origin.lag_s);
  std::vector<double> now = origin.uncorrected, with_change = now, target(now.size());
  double last_target = 1;
  for (std::size_t i = 0; i < now.size(); ++i) {
    now[i] /= needed[i];
    with_change[i] = now[i] * given[i];
    if (log.target_lambda[i] > 0) last_target = log.target_lambda[i];
    target[i] = 1 / last_target;
  }
  now = model.arrived(now, from, origin.lag_s);
  with_change = model.arrived(with_change, from, origin.lag_s);
  target = model.arrived(target, from, origin.lag_s);

  const std::vector<std::uint32_t> quarter = detail::quarters(log, base);
  forecast result;
  for (std::size_t i = 0; i < now.size(); ++i) {
    if (rejected[i] != rejection::none) continue;
    result.map_before.push_back(needed[from[i].row] - 1);
    result.map_after.push_back(needed[from[i].row] / given[from[i].row] - 1);
    if (!(std::abs(uncorrected[i] / target[i] - 1) < near_rest)) continue;
    const double lambda = log.sensors[sensor].lambda[i] * origin.gain;
    result.read_time_s.push_back(log.time_s[i]);
    result.read_step_s.push_back(i > 0 ? log.time_s[i] - log.time_s[i - 1] : 0);
    result.read_quarter.push_back(quarter[from[i].row]);
    result.read_before.push_back(lambda * target[i] - 1);
    result.read_after.push_back(lambda * target[i] * now[i] / with_change[i] - 1);
  }
  return result;
}

}  // namespace fettle

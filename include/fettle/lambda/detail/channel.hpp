// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <vector>

#include "fettle/lambda/detail/estimate.hpp"
#include "fettle/lambda/detail/unknowns.hpp"
#include "fettle/lambda/dynamics.hpp"
#include "fettle/lambda/reading_model.hpp"
#include "fettle/lambda/screening.hpp"

namespace fettle::detail {

/// How a row of a sensor counts.
enum class evidence_kind : std::uint8_t { none, measured, lean_end, rich_end };

/// One sensor of one log at one estimate: residuals of the logarithm of phi, and their slopes.
struct channel {
  const reading_model* model = nullptr;
  std::size_t part = 0;  ///< the model's place; parts of one log share the log's place
  std::size_t log = 0, sensor = 0;
  std::vector<std::size_t> cylinders{};  ///< that pass it and have trims, 0 ..; empty: the mean of all
  reading_model::origin origin{};
  std::vector<double> reading{};                ///< phi that arrives, gain and trims apart
  std::vector<std::array<float, 2>> trim_at{};  ///< coordinates of the trims at each row; empty: no trims
  std::vector<rejection> rejected{};
  std::vector<evidence_kind> kind{};
  std::vector<float> residual{};            ///< of a row at the sensor's end: end less prediction
  std::vector<std::vector<float>> slope{};  ///< per scalar unknown; empty: none, or the same in every row
  std::vector<float> activity{};            ///< change of the prediction for a usual error of the dynamics
  std::vector<float> film_activity{};       ///< the same of the films alone, which all sensors share

  [[nodiscard]] const sensor_trace& trace() const { return model->log().sensors[sensor]; }
};

/// What activity is stated for: an error of a logarithm of the dynamics.
inline constexpr double usual_error = 0.1;

/// A reading this near to an end of the sensor's range, as a fraction, may be that end with noise on it.
inline constexpr double end_margin = 0.015;

/// The parts of a parameter's place in the dynamics.
struct parameter_place {
  bool is_film = false, is_flow = false, is_gain = false, is_lag = false;
  std::size_t sensor = static_cast<std::size_t>(-1);  ///< owner; none: shared

  parameter_place(std::size_t place, std::size_t banks) {
    const std::size_t shared = 1 + 3 * banks;
    is_flow = place > 0 && place < shared && place % 3 == 0;
    is_film = place > 0 && place < shared && !is_flow;
    if (place < shared) return;
    sensor = (place - shared) / 4;
    is_lag = (place - shared) % 4 == 2;
    is_gain = (place - shared) % 4 == 3;
  }
};

/// Slopes of a channel's prediction in the logarithm of one parameter of the dynamics, by a difference.
///
/// @param formed  phi that leaves the cylinders with that parameter moved.
[[nodiscard]] inline std::vector<float> parameter_slope(const channel& one, const dynamics& moved,
                                                        const parameter_place& part, const std::vector<double>& formed,
                                                        double step) {
  std::vector<double> there;
  if (part.is_film || part.is_flow)
    there = one.model->arrived(formed, one.origin.from, one.origin.lag_s);
  else if (part.is_lag)
    there = one.model->arrived(formed, one.origin.from, moved.sensors[one.sensor].lag_s.value);
  else
    there = one.model->arrived(formed, one.model->injected(one.sensor, one.origin.correction, moved), one.origin.lag_s);
  std::vector<float> result(there.size());
  for (std::size_t i = 0; i < there.size(); ++i)
    result[i] = one.kind[i] == evidence_kind::none || !(there[i] > 0)
                    ? 0.0F
                    : static_cast<float>(std::log(there[i] / one.reading[i]) / step);
  return result;
}

/// The kind of every row: measured, or at an end with gas of a known mixture behind it.
inline void classify(channel& one, const std::vector<rejection>& rows, const screening& limits) {
  const recording& log = one.model->log();
  const sensor_trace& trace = one.trace();
  one.rejected = screen_sensor(log, trace, rows, one.origin.from, limits);
  one.kind.assign(log.rows(), evidence_kind::none);
  const sensor_range range = measuring_range(trace);
  for (std::size_t i = 0; i < log.rows(); ++i) {
    if (!(one.reading[i] > 1e-3)) continue;  // air alone: after a cut
    const bool at_end =
        trace.lambda[i] >= range.highest * (1 - end_margin) || trace.lambda[i] <= range.lowest * (1 + end_margin);
    if (one.rejected[i] == rejection::none && !at_end) one.kind[i] = evidence_kind::measured;
    if (!at_end || (one.rejected[i] != rejection::none && one.rejected[i] != rejection::sensor_at_its_end)) continue;
    const moment from = one.origin.from[i];
    if (!(from.fraction >= 0) || rows[from.row] != rejection::none ||
        (from.fraction > 0 && rows[from.row + 1] != rejection::none))
      continue;
    one.kind[i] = trace.lambda[i] > 1 ? evidence_kind::lean_end : evidence_kind::rich_end;
  }
}

}  // namespace fettle::detail

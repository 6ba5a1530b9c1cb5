// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <vector>

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
  std::vector<bool> shows_air{};            ///< from a fuel cut: the element has not forgotten it yet
  std::vector<float> residual{};            ///< of a row at the sensor's end: end less prediction
  std::vector<std::vector<float>> slope{};  ///< per scalar unknown; empty: none, or the same in every row
  std::vector<float> activity{};            ///< change of the prediction for a usual error of the dynamics
  std::vector<float> film_activity{};       ///< the same of the films alone, which all sensors share

  [[nodiscard]] const sensor_trace& trace() const { return model->log().sensors[sensor]; }

  /// Whether a reading says that the mixture is at least as lean as the sensor can show. Air from a fuel cut takes every
  /// sensor to its lean end: where it is still in the element and the model expects the reading there, it says nothing.
  [[nodiscard]] bool is_lean_alarm(std::size_t row) const {
    return kind[row] == evidence_kind::lean_end && !(shows_air[row] && residual[row] > 0);
  }
};

/// What activity is stated for: an error of a logarithm of the dynamics.
inline constexpr double usual_error = 0.1;

/// A reading this near to an end of the sensor's range, as a fraction, may be that end with noise on it.
inline constexpr double end_margin = 0.015;

/// For so many lags after the last air from a fuel cut the element still shows some, a hundredth of it at the end.
inline constexpr double lags_of_air = 5;

/// Whether a row that a moment lies at or next to is of a kind: is(rejection) of it.
template <class Is>
[[nodiscard]] bool any_row_at(moment from, const std::vector<rejection>& rows, const Is& is) {
  return is(rows[from.row]) || (from.fraction > 0 && is(rows[from.row + 1]));
}

/// The kind of every row: measured, or at an end with gas of a known mixture behind it.
inline void classify(channel& series, const std::vector<rejection>& rows, const screening& limits) {
  const recording& log = series.model->log();
  const sensor_trace& trace = series.trace();
  series.rejected = screen_sensor(log, trace, rows, series.origin.from, limits);
  series.kind.assign(log.rows(), evidence_kind::none);
  series.shows_air.assign(log.rows(), false);
  const sensor_range range = measuring_range(trace);
  double last_air_s = -std::numeric_limits<double>::infinity();
  for (std::size_t i = 0; i < log.rows(); ++i) {
    const moment from = series.origin.from[i];
    if (any_row_at(from, rows, [](rejection why) { return why == rejection::fuel_cut; })) last_air_s = log.time_s[i];
    series.shows_air[i] = log.time_s[i] < last_air_s + lags_of_air * series.origin.lag_s;
    if (!(series.reading[i] > 1e-3)) continue;  // air alone: after a cut
    const bool at_end =
        trace.lambda[i] >= range.highest * (1 - end_margin) || trace.lambda[i] <= range.lowest * (1 + end_margin);
    if (series.rejected[i] == rejection::none && !at_end) series.kind[i] = evidence_kind::measured;
    if (!at_end || (series.rejected[i] != rejection::none && series.rejected[i] != rejection::sensor_at_its_end))
      continue;
    if (!(from.fraction >= 0) || any_row_at(from, rows, [](rejection why) { return why != rejection::none; })) continue;
    series.kind[i] = trace.lambda[i] > 1 ? evidence_kind::lean_end : evidence_kind::rich_end;
  }
}

}  // namespace fettle::detail

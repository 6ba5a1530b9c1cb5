// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <nlohmann/json.hpp>
#include <vector>

#include "fettle/error.hpp"
#include "fettle/fit/fit_table.hpp"
#include "fettle/map/dynamic_table.hpp"
#include "fettle/map/nearest.hpp"
#include "fettle/map/place.hpp"

namespace laboratory {

/// Fuel that was right over fuel that was given, row by row, if every reading were one fixed delay late.
struct delayed_readings {
  std::vector<double> at;      ///< speed and throttle of each
  std::vector<double> factor;  ///< lambda over its target

  /// @param question  log (time_s, rpm, throttle_pct, lambda, target, fuel_cut: a column each); delay_s.
  [[nodiscard]] static delayed_readings of(const nlohmann::json& question) {
    const auto column = [&](const char* name) { return question.at("log").at(name).get<std::vector<double>>(); };
    const auto time_s = column("time_s"), rpm = column("rpm"), throttle_pct = column("throttle_pct"),
               lambda = column("lambda"), target = column("target"), fuel_cut = column("fuel_cut");
    const double delay_s = question.at("delay_s");
    delayed_readings result;
    std::size_t made = 0;
    for (std::size_t row = 0; row < time_s.size(); ++row) {
      while (made + 1 < row && time_s[made + 1] <= time_s[row] - delay_s) ++made;
      if (time_s[row] - delay_s < time_s[0] || fuel_cut[made] != 0 || !std::isfinite(lambda[row])) continue;
      result.at.insert(result.at.end(), {rpm[made], throttle_pct[made]});
      result.factor.push_back(lambda[row] / target[made]);
    }
    return result;
  }
};

/// Each cell times the mean of the readings nearest to it; a cell without any stays.
[[nodiscard]] inline std::vector<double> by_nearest_cell(const fettle::dynamic_table<double>& base,
                                                         const delayed_readings& readings) {
  std::vector<double> sum(base.size(), 0.0), count(base.size(), 0.0), result;
  std::vector<double> number(base.size());  // of each cell, so that a look-up of the nearest names it
  for (std::size_t k = 0; k < number.size(); ++k) number[k] = static_cast<double>(k);
  const auto numbers = *fettle::dynamic_table<double>::from(base.axes(), number);
  for (std::size_t i = 0; i < readings.factor.size(); ++i) {
    // [nearest]
    const double cell = fettle::nearest(numbers.view<2>(), readings.at[2 * i], readings.at[2 * i + 1]);
    // [/nearest]
    sum[static_cast<std::size_t>(cell)] += readings.factor[i];
    count[static_cast<std::size_t>(cell)] += 1;
  }
  for (std::size_t k = 0; k < sum.size(); ++k)
    result.push_back(base.values()[k] * (count[k] > 0 ? sum[k] / count[k] : 1.0));
  return result;
}

/// Each cell times a surface fitted through the interpolation weights of the readings.
[[nodiscard]] inline std::vector<double> by_fixed_delay(const fettle::dynamic_table<double>& base,
                                                        const delayed_readings& readings) {
  // [fixed_delay]
  const auto fitted = fettle::fit_table(base.axes(), readings.at, readings.factor, {}, {.by = fettle::loss::tukey});
  // [/fixed_delay]
  std::vector<double> result;
  for (std::size_t k = 0; k < base.size(); ++k) {
    const bool is_known = std::isfinite(fitted.standard_error[k]);
    result.push_back(base.values()[k] * (is_known ? fitted.table.values()[k] : 1.0));
  }
  return result;
}

/// How far the cells of a map are from the truth, over those that were driven.
[[nodiscard]] inline nlohmann::json against_truth(const std::vector<double>& cells, const std::vector<double>& truth,
                                                  const std::vector<double>& seconds) {
  double squares = 0, weight = 0, leanest = 0;
  for (std::size_t k = 0; k < cells.size(); ++k) {
    if (!(seconds[k] > 0)) continue;
    const double lack = std::log(truth[k] / cells[k]);
    squares += seconds[k] * lack * lack;
    weight += seconds[k];
    if (seconds[k] >= 1) leanest = std::max(leanest, lack);
  }
  return {{"rms_pct", 100 * std::sqrt(squares / weight)}, {"leanest_pct", 100 * std::expm1(leanest)}};
}

/// One log by three methods, judged by the hidden truth.
///
/// Question: log and delay_s (see `delayed_readings`); rpm and throttle_pct, breakpoints; base_mg, identified_mg and
///           truth_mg, cells row by row; seconds driven, per cell.
/// Answer:   nearest_mg and fixed_delay_mg; errors of base, nearest, fixed_delay and identified: rms_pct by time, and
///           leanest_pct, the fuel that the leanest cell driven for a second or more lacks.
/// Errors:   `fettle::error` for axes and cells that do not fit.
[[nodiscard]] inline nlohmann::json same_log(const nlohmann::json& question) {
  using axis = fettle::dynamic_axis<double>;
  const auto cells = [&](const char* name) { return question.at(name).get<std::vector<double>>(); };
  const auto speed = axis::from(cells("rpm")), throttle = axis::from(cells("throttle_pct"));
  if (!speed || !throttle) throw fettle::error("same_log: breakpoints must increase");
  const auto base = fettle::dynamic_table<double>::from({*speed, *throttle}, cells("base_mg"));
  if (!base) throw fettle::error("same_log: give a cell for every crossing of the breakpoints");
  const auto readings = delayed_readings::of(question);
  const auto nearest = by_nearest_cell(*base, readings), fixed = by_fixed_delay(*base, readings);
  const auto truth = cells("truth_mg"), seconds = cells("seconds");
  return {{"nearest_mg", nearest},
          {"fixed_delay_mg", fixed},
          {"errors",
           {{"base", against_truth(cells("base_mg"), truth, seconds)},
            {"nearest", against_truth(nearest, truth, seconds)},
            {"fixed_delay", against_truth(fixed, truth, seconds)},
            {"identified", against_truth(cells("identified_mg"), truth, seconds)}}}};
}

}  // namespace laboratory

// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <span>
#include <vector>

#include "fettle/error.hpp"
#include "fettle/lambda/cylinder_trims.hpp"

namespace fettle {

/// When a lean cylinder must be called out.
struct lean_alarm_limits {
  double lean_alarm = 0.03;       ///< a cylinder's lambda this far above the target, as a fraction, is an alarm,
  double collector_slack = 0.02;  ///< the more so when the collector is within this of the target
};

/// One cell of the trim maps, as the engine ran there and as it will with the trims loaded.
struct region {
  std::size_t cell = 0;
  double seconds = 0;
  double collector_lambda = 1, target_lambda = 1;
  double collector_after = 1;  ///< below `collector_lambda` where the trims add more fuel than they take
  std::size_t leanest = 0;     ///< cylinder, 1 ..
  double leanest_lambda = 1, leanest_after = 1;  ///< of the leanest before and of the leanest after
  double spread_before = 0, spread_after = 0;    ///< of lambda, leanest less richest, over the collector's
  bool lean_alarm = false;                       ///< a cylinder is lean beyond the limit
  bool hidden = false;                           ///< and the collector does not show it
};

/// The leanest cylinder beside the collector's mean, wherever the engine ran.
///
/// Lambda of a cylinder = collector's lambda * the trim it needs, since all get the same fuel. Common practice, no
/// source: at target mean, one or two lean cylinders hide behind rich ones.
///
/// @param applied  multiplier of fuel that is loaded. Shape: [cylinder][cell].
/// Errors: `fettle::error` when there is not one multiplier per cylinder and cell.
[[nodiscard]] inline std::vector<region> lean_regions(const cylinder_trims& trims,
                                                      std::span<const std::vector<double>> applied,
                                                      const lean_alarm_limits& limits = {}) {
  const std::size_t cylinders = trims.correction.size();
  if (applied.size() != cylinders) throw error("lean_regions: give one trim map per cylinder");
  for (const auto& multipliers : applied)
    if (multipliers.size() != trims.seconds.size())
      throw error("lean_regions: give one multiplier per cell of a trim map");
  std::vector<region> result;
  for (std::size_t k = 0; k < trims.seconds.size(); ++k) {
    if (!(trims.seconds[k] > 0)) continue;
    region here{.cell = k,
                .seconds = trims.seconds[k],
                .collector_lambda = trims.collector_lambda[k],
                .target_lambda = trims.target_lambda[k]};
    double low = 1e9, high = 0, low_after = 1e9, high_after = 0, fuel = 0;
    for (std::size_t i = 0; i < cylinders; ++i) {
      const double before = trims.correction[i][k], after = before / applied[i][k];
      if (before > high) here.leanest = i + 1;
      low = (std::min)(low, before);
      high = (std::max)(high, before);
      low_after = (std::min)(low_after, after);
      high_after = (std::max)(high_after, after);
      fuel += applied[i][k] / static_cast<double>(cylinders);
    }
    here.collector_after = here.collector_lambda / fuel;
    here.leanest_lambda = here.collector_lambda * high;
    here.leanest_after = here.collector_lambda * high_after;
    here.spread_before = high - low;
    here.spread_after = high_after - low_after;
    here.lean_alarm = here.leanest_lambda > here.target_lambda * (1 + limits.lean_alarm);
    here.hidden = here.lean_alarm && std::abs(here.collector_lambda / here.target_lambda - 1) < limits.collector_slack;
    result.push_back(here);
  }
  return result;
}

}  // namespace fettle

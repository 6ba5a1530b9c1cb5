// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <vector>

#include "fettle/lambda/recording.hpp"

namespace fettle {

/// Median of the fuel that the logged pulses deliver over the fuel that the map and the target ask for.
///
/// 1 where map, pulses, injectors and log belong together. Far from 1 the injectors are described wrongly, their pulse
/// columns are mixed up, or the log was driven on another map: a correction would then bake that mistake into every
/// cell, and no lambda reading can tell. NaN when nothing was injected.
[[nodiscard]] inline double delivered_over_asked(const recording& log) {
  std::vector<double> ratio;
  for (std::size_t i = 0; i < log.rows(); ++i) {
    double fuel = 0;
    for (const auto& bank : log.fuel_mg) fuel += bank[i];
    const double one = fuel * log.target_lambda[i] / log.need_mg[i];
    if (fuel > 0 && std::isfinite(one)) ratio.push_back(one);
  }
  if (ratio.empty()) return std::nan("");
  const auto middle = ratio.begin() + static_cast<std::ptrdiff_t>(ratio.size() / 2);
  std::nth_element(ratio.begin(), middle, ratio.end());
  return *middle;
}

}  // namespace fettle

// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <numbers>
#include <utility>
#include <vector>

#include "fettle/map/dynamic_table.hpp"
#include "virtual_engine/engine.hpp"

namespace virtual_engine {

using map = fettle::dynamic_table<double>;

/// Breakpoints of a map over speed and throttle.
struct map_axes {
  std::vector<double> rpm{800,  1200, 1700, 2200, 2800, 3400, 4000, 4600,
                          5200, 5800, 6400, 7000, 7500, 8000, 8500, 9000};
  std::vector<double> throttle_pct{0, 2, 5, 9, 14, 20, 27, 35, 44, 54, 66, 82, 100};
};

/// A function of speed and throttle, sampled at the breakpoints.
template <class Function>
[[nodiscard]] map sampled(const map_axes& axes, Function&& value) {
  std::vector<double> cells;
  for (const double rpm : axes.rpm)
    for (const double throttle_pct : axes.throttle_pct) cells.push_back(value(rpm, throttle_pct));
  using axis = fettle::dynamic_axis<double>;
  return *map::from({*axis::from(axes.rpm), *axis::from(axes.throttle_pct)}, std::move(cells));
}

/// As a file will hold it.
[[nodiscard]] inline map rounded(map cells, int decimals) {
  const double scale = std::pow(10.0, decimals);
  for (double& value : cells.values()) value = std::nearbyint(value * scale) / scale;
  return cells;
}

/// The truth at the breakpoints: fuel per cylinder and cycle at lambda 1 and reference conditions.
[[nodiscard]] inline map ideal_fuel_map(const engine& e, const map_axes& axes = {}) {
  return sampled(axes, [&](double rpm, double throttle_pct) { return e.ideal_fuel_mg(rpm, throttle_pct); });
}

/// The fuel map that the car came with: the truth, off by smooth errors of 10 to 13 % at most and 1 % noise per cell.
[[nodiscard]] inline map base_fuel_map(const engine& e, std::uint64_t seed, const map_axes& axes = {}) {
  dice draw{seed, 2};
  struct wave {
    double along_speed, along_throttle, phase, height;
  };
  std::array<wave, 4> waves;
  for (auto& w : waves)
    w = {draw.uniform(-2.2, 2.2), draw.uniform(-1.8, 1.8), draw.uniform(0, 2 * std::numbers::pi), draw.uniform(0.5, 1)};
  const map smooth = sampled(axes, [&](double rpm, double throttle_pct) {
    double sum = 0;
    for (const auto& w : waves)
      sum += w.height * std::sin(w.phase + std::numbers::pi * (w.along_speed * rpm / 9000 +
                                                               w.along_throttle * std::sqrt(throttle_pct / 100)));
    return sum;
  });
  double highest = 0;
  for (const double error : smooth.values()) highest = std::max(highest, std::abs(error));
  const double scale = draw.uniform(0.10, 0.13) / highest;
  map result = ideal_fuel_map(e, axes);
  for (std::size_t i = 0; i < result.size(); ++i)
    result.values()[i] *= 1 + scale * smooth.values()[i] + 0.01 * draw.normal();
  return rounded(std::move(result), 3);
}

/// The secondary bank's share of the fuel: nothing below a throttle guard that rises with speed, blended in above it.
[[nodiscard]] inline map share_map(const map_axes& axes = {}) {
  return rounded(sampled(axes,
                         [](double rpm, double throttle_pct) {
                           const double guard_pct = 36 + rpm / 1000;
                           return 0.55 * ramp(throttle_pct, guard_pct, guard_pct + 42) * ramp(rpm, 3600, 7200);
                         }),
                 4);
}

}  // namespace virtual_engine

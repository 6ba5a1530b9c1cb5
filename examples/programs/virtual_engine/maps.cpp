// SPDX-License-Identifier: MIT
#include "virtual_engine/maps.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <numbers>

namespace virtual_engine {

map rounded(map cells, int decimals) {
  const double scale = std::pow(10.0, decimals);
  for (double& value : cells.values()) value = std::nearbyint(value * scale) / scale;
  return cells;
}

map ideal_fuel_map(const engine& e, const map_axes& axes) {
  return sampled(axes, [&](double rpm, double throttle_pct) { return e.ideal_fuel_mg(rpm, throttle_pct); });
}

map base_fuel_map(const engine& e, std::uint64_t seed, const map_axes& axes) {
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

map share_map(const map_axes& axes) {
  return rounded(sampled(axes,
                         [](double rpm, double throttle_pct) {
                           const double guard_pct = 36 + rpm / 1000;
                           return 0.55 * ramp(throttle_pct, guard_pct, guard_pct + 42) * ramp(rpm, 3600, 7200);
                         }),
                 4);
}

}  // namespace virtual_engine

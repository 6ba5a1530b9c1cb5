// SPDX-License-Identifier: MIT
#include "virtual_engine/dyno_drive.hpp"

#include <algorithm>
#include <cmath>

#include "virtual_engine/dice.hpp"

namespace virtual_engine {

drive dyno_drive(std::uint64_t seed, double minutes) {
  dice draw{seed, 3};
  drive result{.name = "dyno", .points = {}};
  drive_point now{.rpm = 1100, .throttle_pct = 2.2, .air_kpa = draw.uniform(97, 101), .air_degc = draw.uniform(18, 28)};
  const double warming_per_s = draw.uniform(0.2, 0.5) / 60, seconds = minutes * 60;
  result.points.push_back(now);
  const auto go = [&](double in_s, double rpm, double throttle_pct) {
    now.time_s += in_s;
    now.rpm = rpm;
    now.throttle_pct = throttle_pct;
    now.air_degc += warming_per_s * in_s;
    now.air_kpa += 0.01 * draw.normal();
    now.battery_v = 13.9 - 0.6 * std::exp(-rpm / 1500) + 0.03 * draw.normal();
    result.points.push_back(now);
  };

  const int levels = std::clamp(static_cast<int>(minutes * 1.6), 8, 28), steps = 8;
  const double level_s = seconds / levels, settle_s = std::min(2.0, level_s * 0.05);
  for (int level = 0; level < levels; ++level) {
    const double open = (level + draw.uniform(0.2, 0.8)) / levels;
    const double throttle_pct = 2.5 + 97.5 * std::pow(open, 1.7);  // closer together where the map is steep
    const double lowest = 900 + 14 * throttle_pct, highest = std::min(8900.0, 3600 + 260 * throttle_pct);
    go(settle_s, lowest, throttle_pct);
    go(level_s * 0.55 - settle_s, highest, throttle_pct);
    for (int step = 1; step <= steps; ++step) {
      const double rpm = highest + (lowest - highest) * (step - draw.uniform(0.2, 0.8)) / steps;
      const double step_s = level_s * 0.45 / steps;
      go(step_s * 0.3, rpm, throttle_pct);
      go(step_s * 0.7, rpm, throttle_pct);
    }
  }
  return result;
}

drive pull_drive(std::uint64_t seed, std::uint64_t run) {
  dice draw{seed, 1000 + run};
  drive result{.name = "pull", .points = {}, .measures_torque = true, .torque_drift = 0.004 * draw.normal()};
  drive_point now{.rpm = 3000,
                  .throttle_pct = 100,
                  .air_kpa = 99 + 0.4 * draw.normal(),
                  .air_degc = 24 + 2 * draw.normal(),
                  .battery_v = 13.7};
  for (const auto& [time_s, rpm] : {std::pair{0.0, 3000.0}, {3.0, 3000.0}, {15.0, 8800.0}, {16.0, 8800.0}}) {
    now.time_s = time_s;
    now.rpm = rpm;
    result.points.push_back(now);
  }
  return result;
}

}  // namespace virtual_engine

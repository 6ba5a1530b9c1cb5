// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <string>
#include <vector>

namespace virtual_engine {

/// What the world does to the engine at one moment.
struct drive_point {
  double time_s = 0, rpm = 1000, throttle_pct = 0;
  double air_kpa = 100, air_degc = 25, battery_v = 13.8, coolant_degc = 88;
  bool shift_cut = false;  ///< holds from this point to the next
};

/// A drive: points in order of time, straight lines between them.
struct drive {
  std::string name;
  std::vector<drive_point> points;
  bool measures_torque = false;
  double torque_drift = 0;  ///< how far this run's torque is off the engine's usual, as a fraction

  [[nodiscard]] double duration_s() const { return points.back().time_s; }

  /// The world at a time; `cursor` starts at 0 and is kept by the caller between rising times.
  [[nodiscard]] drive_point at(double time_s, std::size_t& cursor) const {
    while (cursor + 2 < points.size() && points[cursor + 1].time_s <= time_s) ++cursor;
    const drive_point &a = points[cursor], &b = points[cursor + 1];
    const double t = (time_s - a.time_s) / (b.time_s - a.time_s);
    const auto between = [t](double from, double to) { return from + t * (to - from); };
    return {.time_s = time_s,
            .rpm = between(a.rpm, b.rpm),
            .throttle_pct = between(a.throttle_pct, b.throttle_pct),
            .air_kpa = between(a.air_kpa, b.air_kpa),
            .air_degc = between(a.air_degc, b.air_degc),
            .battery_v = between(a.battery_v, b.battery_v),
            .coolant_degc = between(a.coolant_degc, b.coolant_degc),
            .shift_cut = a.shift_cut};
  }
};

}  // namespace virtual_engine

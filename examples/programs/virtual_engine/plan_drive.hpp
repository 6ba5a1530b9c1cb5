// SPDX-License-Identifier: MIT
#pragma once

#include <cstdint>
#include <vector>

#include "virtual_engine/drive.hpp"

namespace virtual_engine {

/// An operating point of a plan.
struct planned_point {
  double rpm = 0, throttle_pct = 0;
};

/// One line of a plan of where to drive next: a steady point, or a slow sweep between two points.
struct planned_leg {
  planned_point from, to;  ///< equal for a steady point
  [[nodiscard]] bool is_sweep() const { return from.rpm != to.rpm || from.throttle_pct != to.throttle_pct; }
};

/// Drives the legs of a plan in turn, again and again until the minutes are full, as on a dynamometer: the brake holds
/// the speed within some 20 rpm, the foot the throttle within some 0.4 %. Sweeps are driven up and down in turn.
///
/// @param legs  at least one; speeds above 0.
[[nodiscard]] drive plan_drive(const std::vector<planned_leg>& legs, std::uint64_t seed, double minutes);

}  // namespace virtual_engine

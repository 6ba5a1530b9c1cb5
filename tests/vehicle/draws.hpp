// SPDX-License-Identifier: MIT
#pragma once

#include <rapidcheck.h>

#include "fettle/vehicle.hpp"

// Random inputs of the property tests of this folder.
namespace draws {

/// A number between two, both included.
[[nodiscard]] inline double between(double low, double high) {
  constexpr int steps = 1 << 20;
  const int step = *rc::gen::resize(rc::kNominalSize, rc::gen::inRange(0, steps + 1));
  return low + (high - low) * step / steps;
}

[[nodiscard]] inline fettle::driveline<double> gear() {
  return {.gear_ratio = between(0.7, 4),
          .final_ratio = between(2, 5),
          .wheel_radius_m = between(0.2, 0.4),
          .efficiency = between(0.7, 1),
          .growth_per_m2s2 = between(0, 1e-5)};
}

[[nodiscard]] inline fettle::car<double> car() {
  return {
      .mass_kg = between(300, 2000),
      .turning = {.wheels_kgm2 = between(0, 6), .shafts_kgm2 = between(0, 0.2), .engine_kgm2 = between(0.01, 0.6)},
      .load = {
          .constant_n = between(50, 400), .linear_ns_per_m = between(0, 5), .quadratic_ns2_per_m2 = between(0.2, 1)}};
}

}  // namespace draws

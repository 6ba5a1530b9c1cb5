// SPDX-License-Identifier: MIT
#include "fettle/vehicle/road_load.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace road_load_test {

/// Time to coast from one speed down to another: the integral of m dv/F by Simpson's rule.
double coast_s(const fettle::road_load<double>& load, double mass_kg, double from_mps, double to_mps) {
  constexpr int steps = 1000;
  const double h = (from_mps - to_mps) / steps;
  double sum = 0;
  for (int i = 0; i <= steps; ++i)
    sum += (i == 0 || i == steps ? 1 : i % 2 == 1 ? 4 : 2) * mass_kg / fettle::road_load_n(load, to_mps + i * h);
  return sum * h / 3;
}

// Closed form for B = 0: v = sqrt(A/C) tan(atan(v0 sqrt(C/A)) - t sqrt(A C)/m). Worked in another program for 1000 kg,
// A = 150 N, C = 0.4 N s^2/m^2 from 40 m/s: 25 m/s after 26.877546 s.
TEST(RoadLoad, CoastsDownAsTheClosedFormSays) {
  EXPECT_NEAR(coast_s({150, 0, 0.4}, 1000, 40, 25), 26.877546, 5e-7);
}

// A + B v + C v^2 = (v + 3)(v + 1), so that m dv/F integrates to m/2 ln((v+1)/(v+3)).
TEST(RoadLoad, WithALinearTermCoastsDownAsPartialFractionsSay) {
  const auto integral = [](double v) { return 0.5 * std::log((v + 1) / (v + 3)); };
  EXPECT_NEAR(coast_s({3, 4, 1}, 1, 10, 2), integral(10) - integral(2), 1e-9);
}

// One metre up in a hundred metres of road: m g / 100.
TEST(SlopeForce, IsTheWeightTimesTheRise) {
  EXPECT_NEAR(fettle::slope_force_n(1000.0, 0.01), 98.0665, 1e-12);
  EXPECT_NEAR(fettle::slope_force_n(1000.0, -0.01), -98.0665, 1e-12);
}

static_assert(fettle::road_load_n(fettle::road_load<float>{1, 2, 3}, 2.0F) == 17.0F);

}  // namespace road_load_test

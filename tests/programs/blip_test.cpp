// SPDX-License-Identifier: MIT
#include "fettle/vehicle/blip.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <cstddef>
#include <cstdint>

#include "fettle/vehicle/motion.hpp"
#include "programs/blip_trial.hpp"
#include "virtual_engine/car.hpp"

namespace blip_test {

using blip_trial::largest_error;
using virtual_engine::car_truth;

// What limits it: torque comes in steps of 144 degrees, and the map is straight between its breakpoints.
TEST(Blip, WithAnExactMapEndsWithinTwoPercentOfItsSpeed) {
  for (const std::uint64_t seed : {1U, 2U, 3U}) EXPECT_LT(largest_error(seed, 1), 0.02) << seed;
}

// With torque 10 % more or less than the map says, the jump of speed is off by about as much of itself.
TEST(Blip, WithAMapTenPercentWrongIsOffByAsMuchOfItsJump) {
  for (const double factor : {0.9, 1.1}) {
    EXPECT_GT(largest_error(1, factor), largest_error(1, 1));
    EXPECT_LT(largest_error(1, factor), 0.05);
  }
}

// Energy: what the engine's torque does over time speeds up engine and car and overcomes their resistance; a tyre's slip
// adds no force. Gusts and the road average out to a fifth of a percent.
TEST(VirtualCar, GainsTheImpulseOfItsEngineAndNoMore) {
  car_truth truth = car_truth::from_seed(1);
  truth.hot_loss = 0;
  const virtual_engine::test_conditions now{.heat = 0};
  for (const std::size_t number : {1U, 4U}) {
    const auto gear = truth.gear(number);
    const auto log = virtual_engine::road_pull(truth, number, now);
    const auto &time_s = *log.find("time_s"), &rpm = *log.find("rpm"), &kmh = *log.find("speed_kmh"),
               &grade_pct = *log.find("grade_pct");
    double engine_nms = 0, car_nms = 0;
    for (std::size_t i = 1; i < time_s.size(); ++i) {
      const double dt = time_s[i] - time_s[i - 1], v = kmh[i] / 3.6;
      const double lever = gear.radius_m(v) / (gear.overall_ratio() * gear.efficiency);
      engine_nms += dt * truth.torque_nm(rpm[i], 100, virtual_engine::engine::density(now.kpa, now.degc));
      car_nms += truth.body.turning.engine_kgm2 * fettle::rad_per_s_of(rpm[i] - rpm[i - 1]) +
                 lever * (fettle::driven_mass_kg(truth.body, gear) * (kmh[i] - kmh[i - 1]) / 3.6 +
                          dt * (fettle::road_load_n(truth.body.load, v) +
                                fettle::slope_force_n(truth.body.mass_kg, grade_pct[i] / 100)));
    }
    EXPECT_NEAR(car_nms / engine_nms, 1, 0.01) << number;
  }
}

}  // namespace blip_test

// SPDX-License-Identifier: MIT
#include "fettle/vehicle/motion.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>

#include "draws.hpp"

namespace motion_test {

const fettle::car<double> light{
    .mass_kg = 800, .turning = {.wheels_kgm2 = 3, .shafts_kgm2 = 0.02, .engine_kgm2 = 0.12}, .load = {120, 0, 0.45}};
const fettle::driveline<double> second{.gear_ratio = 2, .final_ratio = 4, .wheel_radius_m = 0.28};

// P = (m_eq a + F) v and torque = P/omega; 1 kW at 9549.297 rpm is 1 N m (closed form).
TEST(ShaftPower, OfOneNewtonMetreAt9549RpmIsOneKilowatt) {
  EXPECT_NEAR(fettle::shaft_power_kw(1.0, 9549.297), 1.0, 1e-7);
  EXPECT_NEAR(fettle::power_kw(100.0, 10.0), 1.0, 1e-15);
}

TEST(EngineTorque, IsPowerOverSpeedWithoutLossesOrTyreGrowth) {
  const fettle::motion<double> now{.speed_mps = 22, .acceleration_mps2 = 4, .rise = 0.03};
  const double kw = fettle::power_kw(fettle::equivalent_mass_kg(light, second) * 4 +
                                         fettle::road_load_n(light.load, 22.0) + fettle::slope_force_n(800.0, 0.03),
                                     22.0);
  EXPECT_NEAR(fettle::shaft_power_kw(fettle::engine_torque_nm(light, second, now), fettle::engine_rpm(second, 22.0)),
              kw, 1e-10);
}

// Free revving is the limit of no car: T = I alpha; 1 N m on 0.1 kg m^2 for 1 s is 10 rad/s, 95.493 rpm (closed form).
TEST(Acceleration, OfAnEngineAloneIsTorqueOverInertia) {
  const fettle::car<double> nothing{.turning = {.engine_kgm2 = 0.1}};
  const fettle::driveline<double> unit{.gear_ratio = 1, .final_ratio = 1, .wheel_radius_m = 1};
  const double alpha = fettle::acceleration_mps2(nothing, unit, {}, 1.0);
  EXPECT_NEAR(fettle::rpm_of(alpha), 95.493, 5e-4);
}

// Two pulls at the same engine speed and torque: I = (T_out,g - T_out,h)/(alpha_h - alpha_g) (closed form).
TEST(EngineTorque, InTwoGearsGivesTheInertia) {
  const fettle::driveline<double> third{.gear_ratio = 1.4, .final_ratio = 4, .wheel_radius_m = 0.28};
  double output[2], alpha[2];
  for (const int k : {0, 1}) {
    const auto& gear = k == 0 ? second : third;
    const double v = fettle::road_speed_mps(gear, 5000.0);
    const double a = fettle::acceleration_mps2(light, gear, {.speed_mps = v}, 250.0);
    const double turns = gear.overall_ratio() / gear.wheel_radius_m;
    output[k] = fettle::wheel_force_n(light, gear, {.speed_mps = v, .acceleration_mps2 = a}) / turns;
    alpha[k] = turns * a;
  }
  EXPECT_NEAR((output[0] - output[1]) / (alpha[1] - alpha[0]), 0.12, 1e-12);
}

RC_GTEST_PROP(Acceleration, IsTheInverseOfTorque, ()) {
  const auto c = draws::car();
  const auto gear = draws::gear();
  fettle::motion<double> now{.speed_mps = draws::between(5, 80), .rise = draws::between(-0.1, 0.1)};
  const double torque = draws::between(20, 500);
  now.acceleration_mps2 = fettle::acceleration_mps2(c, gear, now, torque);
  RC_ASSERT(std::abs(fettle::engine_torque_nm(c, gear, now) - torque) <= 1e-10 * torque);
}

// The engine's acceleration is the derivative of its speed, tyre growth included.
RC_GTEST_PROP(EngineTorque, SpinsTheEngineAsItsSpeedSays, ()) {
  const auto gear = draws::gear();
  const double v = draws::between(5, 80), h = 1e-3;
  const fettle::car<double> engine_only{.turning = {.engine_kgm2 = 1}};
  const double spin = fettle::engine_torque_nm(engine_only, gear, {.speed_mps = v, .acceleration_mps2 = 1});
  const double slope =
      fettle::rad_per_s_of(fettle::engine_rpm(gear, v + h) - fettle::engine_rpm(gear, v - h)) / (2 * h);
  RC_ASSERT(std::abs(spin - slope) <= 1e-6 * slope);
}

static_assert(fettle::power_kw(500.0F, 2.0F) == 1.0F);

}  // namespace motion_test

// SPDX-License-Identifier: MIT
#include "fettle/vehicle/shift.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <array>
#include <cmath>

#include "draws.hpp"

namespace shift_test {

using gear = fettle::driveline<double>;

const std::array<double, 8> speeds{1000, 2500, 4000, 5000, 6000, 7000, 8000, 9000};
const std::array<double, 8> torques{150, 200, 240, 262, 270, 262, 240, 195};
const fettle::map_view<1, double> full_load{{{{speeds.data(), speeds.size()}}}, torques.data()};
const fettle::car<double> light{
    .mass_kg = 780, .turning = {.wheels_kgm2 = 3, .shafts_kgm2 = 0.02, .engine_kgm2 = 0.12}, .load = {120, 0, 0.45}};
const fettle::gear_pair<double> second_third{{2.0, 4, 0.28, 0.95}, {1.6, 4, 0.28, 0.95}};

// n2 = n1 i2/i1 and J (w2^2 - w1^2)/2, worked in another program: 4000 rpm from 1.4 to 1.9 is 5428.571 rpm; 14770.8 J
// for 0.2 kg m^2.
TEST(Shift, SpeedAndEnergyOfADownShift) {
  EXPECT_NEAR(fettle::rpm_after_shift(4000.0, 1.4, 1.9), 5428.571, 5e-4);
  EXPECT_NEAR(fettle::spin_up_energy_j(0.2, 4000.0, 4000.0 * 1.9 / 1.4), 14770.8, 0.05);
}

// Without inertia the wheel force decides, and it crosses where power in both gears is equal (closed form).
TEST(BestShift, OfACarWithoutRotatingPartsIsWherePowersAreEqual) {
  fettle::car<double> still = light;
  still.turning = {};
  const double rpm = fettle::best_shift_rpm(still, second_third, full_load, {3000, 9000});
  const double after = fettle::rpm_after_shift(rpm, 2.0, 1.6);
  EXPECT_LT(rpm, 9000);
  EXPECT_NEAR(rpm * fettle::interpolate(full_load, rpm), after * fettle::interpolate(full_load, after), 1e-3);
}

TEST(BestShift, WithHeavyRotatingPartsComesEarlier) {
  fettle::car<double> heavy = light;
  heavy.turning.engine_kgm2 = 0.4;
  EXPECT_LT(fettle::best_shift_rpm(heavy, second_third, full_load, {3000, 9000}),
            fettle::best_shift_rpm(light, second_third, full_load, {3000, 9000}) - 20);
}

// A stretch driven with a shift at each of many speeds, integrated in small steps: none is quicker by more than what
// the steps round away.
TEST(BestShift, IsTheQuickestOfAllShifts) {
  const auto time_s = [&](double shift_rpm) {
    double v = 20, t = 0, x = 0;
    while (x < 300) {
      const bool is_low = fettle::engine_rpm(second_third.lower, v) < shift_rpm;
      const auto& g = is_low ? second_third.lower : second_third.higher;
      const double torque = fettle::interpolate(full_load, fettle::engine_rpm(g, v));
      const double h = std::min(1e-3, (300 - x) / v + 1e-9);
      v += h * fettle::acceleration_mps2(light, g, {.speed_mps = v}, torque);
      x += h * v;
      t += h;
    }
    return t;
  };
  const double best = fettle::best_shift_rpm(light, second_third, full_load, {3000, 9000});
  for (double rpm = 7000; rpm <= 9000; rpm += 250) EXPECT_LE(time_s(best), time_s(rpm) + 2e-4) << rpm;
}

TEST(BestShift, IsTheLimitWhereTheLowerGearIsBetterAllTheWay) {
  EXPECT_EQ(fettle::best_shift_rpm(light, second_third, full_load, {3000, 6000}), 6000);
}

TEST(BestShift, RefusesGearsInTheWrongOrderAndEmptyRanges) {
  EXPECT_TRUE(
      std::isnan(fettle::best_shift_rpm(light, {second_third.higher, second_third.lower}, full_load, {3000, 9000})));
  EXPECT_TRUE(std::isnan(fettle::best_shift_rpm(light, second_third, full_load, {9000, 3000})));
  EXPECT_TRUE(std::isnan(fettle::best_shift_rpm(light, second_third, full_load, {0, 3000})));
}

// At the torque of unloaded dogs the car accelerates as it coasts with the engine out of gear.
RC_GTEST_PROP(UnloadedTorque, LetsTheCarCoast, ()) {
  const auto c = draws::car();
  auto g = draws::gear();
  g.efficiency = 1;
  fettle::motion<double> now{.speed_mps = draws::between(5, 60), .rise = draws::between(-0.01, 0.05)};
  const double torque = fettle::unloaded_torque_nm(c, g, now);
  fettle::car<double> out_of_gear = c;
  out_of_gear.turning.engine_kgm2 = 0;
  const double in_gear = fettle::acceleration_mps2(c, g, now, torque);
  const double coasting = fettle::acceleration_mps2(out_of_gear, g, now, 0.0);
  RC_ASSERT(std::abs(in_gear - coasting) <= 1e-9 * (1 + std::abs(coasting)));
}

// Two revolutions at 6000 rpm take 20 ms; from 250 to 0 of 250 to -50 N m is five sixths of the fall.
TEST(UnloadTime, IsLatencyAndItsPartOfTwoRevolutions) {
  EXPECT_NEAR(fettle::unload_time_s<double>({6000, 250, -50, 0.005}, 0.0), 0.005 + 0.02 * 250 / 300, 1e-12);
  EXPECT_EQ(fettle::unload_time_s<double>({6000, -20, -50, 0.005}, -10.0), 0.0);
}

TEST(UnloadTime, IsNaNWhenFrictionDoesNotUnloadTheDogs) {
  EXPECT_TRUE(std::isnan(fettle::unload_time_s<double>({6000, 250, -5, 0.005}, -8.0)));
  EXPECT_TRUE(std::isnan(fettle::unload_time_s<double>({0, 250, -50, 0.005}, -8.0)));
}

// Momentum of engine and car together is that before.
RC_GTEST_PROP(Engage, KeepsMomentum, ()) {
  const auto c = draws::car();
  auto g = draws::gear();
  g.growth_per_m2s2 = 0;
  const double v = 20, error = draws::between(-1000, 1000);
  const double turns = g.overall_ratio() / g.wheel_radius_m;
  const auto jolt = fettle::engage(c, g, error, 0.05);
  fettle::car<double> rest = c;
  rest.turning.engine_kgm2 = 0;
  const double mass = fettle::equivalent_mass_kg(rest, g), j = c.turning.engine_kgm2;
  const double before = mass * v + j * turns * (turns * v + fettle::rad_per_s_of(error));
  const double after = (mass + j * turns * turns) * (v + jolt.speed_change_mps);
  RC_ASSERT(std::abs(before - after) <= 1e-9 * before);
  RC_ASSERT(std::abs(jolt.wheel_torque_nm * 0.05 / g.wheel_radius_m - mass * jolt.speed_change_mps) <= 1e-9 * mass);
}

static_assert(fettle::rpm_after_shift(4000.0F, 2.0F, 1.0F) == 2000.0F);

}  // namespace shift_test

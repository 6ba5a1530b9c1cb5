// SPDX-License-Identifier: MIT
#include "fettle/vehicle/driveline.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>
#include <numbers>

#include "draws.hpp"

namespace driveline_test {

using gear = fettle::driveline<double>;

// Typical inertias quoted by a course of vehicle dynamics (wheels 2.7, shaft 0.05, engine 0.2 + flywheel 0.5 kg m^2)
// through its formula at r = 0.3 m, final drive 4, worked in another program: 1563.33 kg at 3.5, 163.33 kg at 1.
TEST(RotatingMass, IsThatOfTheCoursesFormula) {
  const fettle::rotating_inertia<double> turning{2.7, 0.05, 0.7};
  EXPECT_NEAR(fettle::rotating_mass_kg(turning, gear{3.5, 4, 0.3}), 1563.33, 0.005);
  EXPECT_NEAR(fettle::rotating_mass_kg(turning, gear{1, 4, 0.3}), 163.33, 0.005);
}

// T. D. Gillespie, "Fundamentals of Vehicle Dynamics", SAE 1992 (from memory): a car's equivalent mass is about 1.04 +
// 0.0025 (overall ratio)^2 of its mass, 1.40 at 12. An invented car of 1250 kg with wheels of 4.5 kg m^2 in all and an
// engine of 0.28 kg m^2 follows the rule within a few percent.
TEST(RotatingMass, FollowsTheRuleOfThumb) {
  const fettle::rotating_inertia<double> turning{4.5, 0, 0.28};
  for (const double ratio : {3.0, 6.0, 9.0, 12.0}) {
    const double factor = 1 + fettle::rotating_mass_kg(turning, gear{ratio, 1, 0.3}) / 1250;
    EXPECT_NEAR(factor, 1.04 + 0.0025 * ratio * ratio, 0.02) << ratio;
  }
}

TEST(RoadSpeed, IsTheCircumferenceTimesTheTurnsOfTheWheel) {
  const gear third{1.5, 4, 0.3};  // 6000 rpm: 1000 turns of the wheel a minute
  EXPECT_NEAR(fettle::road_speed_mps(third, 6000.0), 2 * std::numbers::pi * 0.3 * 1000 / 60, 1e-12);
}

RC_GTEST_PROP(RoadSpeed, AndEngineSpeedAreInverses, ()) {
  const gear g = draws::gear();
  const double v = draws::between(0, 90);
  RC_ASSERT(std::abs(fettle::road_speed_mps(g, fettle::engine_rpm(g, v)) - v) <= 1e-11 * v);
}

RC_GTEST_PROP(TyreSlip, IsFoundAgain, ()) {
  const gear g = draws::gear();
  const double v = draws::between(1, 90), slip = draws::between(-0.3, 0.5);
  RC_ASSERT(std::abs(fettle::tyre_slip(g, fettle::engine_rpm(g, v, slip), v) - slip) <= 1e-12);
}

TEST(RoadSpeed, OfATyreThatRunsAwayIsNaN) {
  const gear g{.gear_ratio = 1, .final_ratio = 3, .wheel_radius_m = 0.3, .growth_per_m2s2 = 1e-3};
  EXPECT_TRUE(std::isnan(fettle::road_speed_mps(g, 9000.0)));
  EXPECT_EQ(fettle::road_speed_mps(g, 0.0), 0.0);
  EXPECT_TRUE(std::isnan(fettle::road_speed_mps(g, std::nan(""))));
}

TEST(Driveline, IsValidOnlyWithPositiveRatiosRadiusAndEfficiency) {
  EXPECT_TRUE((gear{3, 4, 0.3}.is_valid()));
  EXPECT_FALSE((gear{0, 4, 0.3}.is_valid()));
  EXPECT_FALSE((gear{3, -4, 0.3}.is_valid()));
  EXPECT_FALSE((gear{3, 4, 0}.is_valid()));
  EXPECT_FALSE((gear{3, 4, 0.3, 1.1}.is_valid()));
  EXPECT_FALSE((gear{3, 4, 0.3, 1, -1e-6}.is_valid()));
  EXPECT_FALSE((gear{std::nan(""), 4, 0.3}.is_valid()));
}

static_assert(fettle::rpm_of(fettle::rad_per_s_of(30.0F)) > 29.99F);
static_assert(fettle::engine_rpm(fettle::driveline<float>{1, 1, 1}, 0.0F) == 0.0F);

}  // namespace driveline_test

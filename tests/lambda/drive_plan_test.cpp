// SPDX-License-Identifier: MIT
#include "fettle/lambda/drive_plan.hpp"

#include <gtest/gtest.h>

#include <vector>

namespace drive_plan_test {

using points = std::vector<double>;

fettle::dynamic_table<double> map_of_twelve() {
  return *fettle::dynamic_table<double>::from({*fettle::dynamic_axis<double>::from({1000, 2000, 3000, 4000}),
                                               *fettle::dynamic_axis<double>::from({0, 50, 100})},
                                              std::vector<double>(12, 1.0));
}

fettle::visit at(double rpm, double throttle_pct, double gain = 0.1) {
  return {.at = {rpm, throttle_pct}, .error_before = 2 * gain, .error_after = gain, .gain = gain};
}

TEST(DrivePlan, JoinsAdjoiningPointsOfOneLineIntoASweep) {
  const std::vector<fettle::visit> visits{at(2000, 50, 0.3), at(4000, 0, 0.2), at(1000, 50, 0.1), at(3000, 50, 0.05)};
  const auto plan = fettle::drive_plan(map_of_twelve(), visits);
  ASSERT_EQ(plan.size(), 2U);
  EXPECT_TRUE(plan[0].is_sweep());
  EXPECT_EQ(plan[0].from, (points{1000, 50}));
  EXPECT_EQ(plan[0].to, (points{3000, 50}));
  EXPECT_DOUBLE_EQ(plan[0].error_before, 0.6);
  EXPECT_DOUBLE_EQ(plan[0].error_after, 0.3);
  EXPECT_NEAR(plan[0].gain, 0.45, 1e-12);
  EXPECT_FALSE(plan[1].is_sweep());
  EXPECT_EQ(plan[1].from, (points{4000, 0}));
}

TEST(DrivePlan, DoesNotSweepOverABreakpointThatIsNotAskedFor) {
  const std::vector<fettle::visit> visits{at(1000, 50), at(3000, 50)};
  EXPECT_EQ(fettle::drive_plan(map_of_twelve(), visits).size(), 2U);
}

TEST(DrivePlan, GivesAPointOnTwoLinesToTheLongerOne) {
  const std::vector<fettle::visit> visits{at(2000, 50), at(3000, 50), at(2000, 0), at(2000, 100)};
  const auto plan = fettle::drive_plan(map_of_twelve(), visits);
  ASSERT_EQ(plan.size(), 2U);
  EXPECT_EQ(plan[0].from, (points{2000, 0}));
  EXPECT_EQ(plan[0].to, (points{2000, 100}));
  EXPECT_EQ(plan[1].from, (points{3000, 50}));
}

TEST(DrivePlan, OfNoVisitsIsEmpty) {
  EXPECT_TRUE(fettle::drive_plan(map_of_twelve(), {}).empty());
}

}  // namespace drive_plan_test

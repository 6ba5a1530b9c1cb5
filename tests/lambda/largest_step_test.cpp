// SPDX-License-Identifier: MIT
#include "fettle/lambda/largest_step.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <vector>

namespace largest_step_test {

fettle::dynamic_table<double> three_by_two() {
  return *fettle::dynamic_table<double>::from(
      {*fettle::dynamic_axis<double>::from({0, 1, 2}), *fettle::dynamic_axis<double>::from({0, 1})},
      {1, 1, 1, 1, 1, 1});
}

TEST(LargestStep, LooksAlongEveryAxisAndNeverAcrossTheEndOfARow) {
  const std::vector<bool> all(6, true);
  const auto step = fettle::largest_step(three_by_two(), std::vector<double>{1, 1.1, 0.9, 1.05, 1, 1}, all);
  EXPECT_NEAR(step.size, std::log(1.05 / 0.9), 1e-12);  // cells 1 and 2 stand at the two ends of two rows
  EXPECT_EQ(step.from, 2U);
  EXPECT_EQ(step.to, 3U);
}

TEST(LargestStep, PassesOverCellsThatDoNotCount) {
  const std::vector<bool> some{true, true, false, true, true, true};
  const auto step = fettle::largest_step(three_by_two(), std::vector<double>{1, 1.1, 0.9, 1.05, 1, 1}, some);
  EXPECT_NEAR(step.size, std::log(1.1), 1e-12);
  EXPECT_EQ(fettle::largest_step(three_by_two(), std::vector<double>(6, 1.1), some).size, 0);
}

TEST(LargestStep, RefusesAnotherNumberOfCells) {
  EXPECT_THROW((void)fettle::largest_step(three_by_two(), std::vector<double>(5, 1.0), std::vector<bool>(6, true)),
               fettle::error);
  EXPECT_THROW((void)fettle::largest_step(three_by_two(), std::vector<double>(6, 1.0), std::vector<bool>(5, true)),
               fettle::error);
}

}  // namespace largest_step_test

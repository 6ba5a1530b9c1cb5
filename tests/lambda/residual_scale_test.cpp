// SPDX-License-Identifier: MIT
#include "fettle/lambda/detail/residual_scale.hpp"

#include <gtest/gtest.h>

#include <cstddef>
#include <random>
#include <vector>

namespace residual_scale_test {

using fettle::detail::residual_scale;

std::vector<float> readings(std::size_t count, double mean, double deviation) {
  std::mt19937 dice(1);
  std::normal_distribution<double> noise(mean, deviation);
  std::vector<float> result;
  for (std::size_t i = 0; i < count; ++i) result.push_back(static_cast<float>(noise(dice)));
  return result;
}

TEST(ResidualScale, OfManyReadingsIsTheirDeviationAboutZeroAndAboutTheirMedian) {
  auto many = readings(100000, 0.02, 0.01);
  residual_scale here;
  here.follow(many, false);
  EXPECT_EQ(here.rows, 100000);
  EXPECT_NEAR(here.spread, 0.01, 0.0002);
  // the median of |x| for a normal x of mean 2 and deviation 1 is 2.00005; times 1.4826
  EXPECT_NEAR(here.scale, 0.0297, 0.0004);
}

TEST(ResidualScale, OfFewReadingsIsLeftToTheNoiseOfTheSensor) {
  auto few = readings(10, 0, 0.01);
  residual_scale here;
  here.follow(few, false);
  EXPECT_LT(here.spread, 0.001);
}

TEST(ResidualScale, FollowsTheResidualsSlowlyWhenAskedTo) {
  auto wide = readings(10000, 0, 0.1), narrow = readings(10000, 0, 0.01);
  residual_scale here;
  here.follow(wide, true);  // nothing is known yet
  EXPECT_NEAR(here.spread, 0.1, 0.005);
  here.follow(narrow, true);
  EXPECT_NEAR(here.spread, 0.1 + 0.3 * (0.01 - 0.1), 0.005);
  for (int i = 0; i < 30; ++i) here.follow(narrow, true);
  EXPECT_NEAR(here.spread, 0.01, 0.001);
}

TEST(ResidualScale, OfAPlaceThatWasLeftIsNothing) {
  auto some = readings(1000, 0, 0.01);
  residual_scale here;
  here.follow(some, false);
  std::vector<float> none;
  here.follow(none, true);
  EXPECT_EQ(here.scale, 0);
  EXPECT_EQ(here.spread, 0);
  EXPECT_EQ(here.rows, 0);
}

}  // namespace residual_scale_test

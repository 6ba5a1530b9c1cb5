// SPDX-License-Identifier: MIT
#include "fettle/lambda/equalise.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>
#include <cstddef>
#include <vector>

namespace {

using fettle::cell_state;

/// One cell, everything well known.
fettle::cylinder_trims trims_of(const std::vector<double>& needed) {
  fettle::cylinder_trims result;
  for (const double one : needed) {
    result.correction.push_back({one});
    result.standard_error.push_back({0.001});
    result.readings.push_back({1000});
    result.told.trim.push_back(true);
  }
  result.seconds = {60};
  result.collector_lambda = {1.0};
  result.target_lambda = {1.0};
  return result;
}

TEST(Equalise, FollowsWhatIsWithinAuthority) {
  const auto found = fettle::equalise(trims_of({1.02, 0.98, 1.01, 0.99}));
  EXPECT_NEAR(found.applied[0][0], 1.02, 1e-12);
  EXPECT_NEAR(found.applied[1][0], 0.98, 1e-12);
  for (const auto& one : found.state) EXPECT_EQ(one[0], cell_state::changed);
}

TEST(Equalise, RefusesToLeanACylinderBeyondItsLimitAndSaysSo) {
  const auto found = fettle::equalise(trims_of({0.92, 1.04, 1.02, 1.02}));
  EXPECT_NEAR(found.applied[0][0], 0.97, 1e-12);
  EXPECT_EQ(found.state[0][0], cell_state::limited);
  EXPECT_EQ(found.state[1][0], cell_state::limited);  // the mean stays 1
}

TEST(Equalise, SaysLimitedHoweverLittleAuthorityCuts) {
  const auto found = fettle::equalise(trims_of({0.9699, 1.01, 1.01, 1.0101}));
  EXPECT_NEAR(found.applied[0][0], 0.97, 1e-12);
  EXPECT_EQ(found.state[0][0], cell_state::limited);
  EXPECT_EQ(found.state[1][0], cell_state::changed);  // the mean costs less than is worth saying
}

TEST(Equalise, FollowsOnlyAPartOfWhatIsKnownBadlyAndCallsItChangedAsCorrectDoes) {
  auto trims = trims_of({1.02, 0.98});
  for (auto& error : trims.standard_error) error[0] = 0.0075;  // halfway between half the largest error and all of it
  const auto found = fettle::equalise(trims);
  EXPECT_NEAR(found.applied[0][0], 1.01, 1e-12);
  EXPECT_EQ(found.state[0][0], cell_state::changed);
}

RC_GTEST_PROP(Equalise, KeepsTheMeanAndTheAuthorityAndNeverOvershootsAWish, ()) {
  const auto wishes = *rc::gen::container<std::vector<double>>(
      6, rc::gen::map(rc::gen::inRange(-120, 121), [](int x) { return 1 + x / 1000.0; }));
  double mean = 0;
  for (const double one : wishes) mean += one / 6;
  std::vector<double> needed = wishes;
  for (double& one : needed) one /= mean;
  const fettle::trim_limits limits;
  const auto found = fettle::equalise(trims_of(needed), limits);
  double sum = 0;
  for (std::size_t i = 0; i < needed.size(); ++i) {
    const double given = found.applied[i][0] - 1, asked = needed[i] - 1;
    sum += given;
    RC_ASSERT(given >= -limits.leaner - 1e-12 && given <= limits.richer + 1e-12);
    RC_ASSERT(std::abs(given) <= std::abs(asked) + 1e-12);
    RC_ASSERT(given * asked >= 0);
  }
  RC_ASSERT(std::abs(sum) < 1e-12);
}

TEST(Equalise, LeavesWhatIsNotSeparableOrThinlyReadAlone) {
  auto trims = trims_of({1.03, 0.97, 1.02, 0.98});
  trims.told.trim[0] = false;
  trims.standard_error[1][0] = 0.02;
  trims.readings[2][0] = 0;
  const auto found = fettle::equalise(trims);
  for (const auto& one : found.applied) EXPECT_EQ(one[0], 1.0);  // the fourth alone cannot keep the mean
  EXPECT_EQ(found.state[0][0], cell_state::held);
  EXPECT_EQ(found.state[1][0], cell_state::held);
  EXPECT_EQ(found.state[2][0], cell_state::unknown);
  EXPECT_EQ(found.state[3][0], cell_state::limited);
}

TEST(Equalise, RefusesLimitsWithoutMeaning) {
  EXPECT_THROW((void)fettle::equalise(trims_of({1, 1}), {.leaner = -0.1}), fettle::error);
  EXPECT_THROW((void)fettle::equalise(trims_of({1, 1}), {.leaner = 1}), fettle::error);
  EXPECT_THROW((void)fettle::equalise(trims_of({1, 1}), {.largest_error = 0}), fettle::error);
}

// Common practice, no source: at target mean, one or two lean cylinders hide behind rich ones.
TEST(Regions, NameTheLeanCylinderThatTheCollectorHides) {
  const auto trims = trims_of({0.99, 1.05, 0.98, 0.98});
  const auto after = fettle::equalise(trims);
  const auto found = fettle::regions(trims, after);
  ASSERT_EQ(found.size(), 1u);
  EXPECT_EQ(found[0].leanest, 2u);
  EXPECT_NEAR(found[0].leanest_lambda, 1.05, 1e-12);
  EXPECT_TRUE(found[0].lean_alarm);
  EXPECT_TRUE(found[0].hidden);
  EXPECT_NEAR(found[0].spread_before, 0.07, 1e-12);
  EXPECT_LT(found[0].spread_after, 1e-12);
}

TEST(Regions, ALeanCollectorHidesNothing) {
  auto trims = trims_of({0.99, 1.02, 0.99});
  trims.collector_lambda = {1.04};
  const auto found = fettle::regions(trims, fettle::equalise(trims));
  EXPECT_TRUE(found[0].lean_alarm);
  EXPECT_FALSE(found[0].hidden);
}

TEST(Regions, LeaveOutWhereTheEngineNeverRan) {
  auto trims = trims_of({0.99, 1.01});
  trims.seconds = {0};
  EXPECT_TRUE(fettle::regions(trims, fettle::equalise(trims)).empty());
}

}  // namespace

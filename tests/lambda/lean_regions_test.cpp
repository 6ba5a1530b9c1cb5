// SPDX-License-Identifier: MIT
#include "fettle/lambda/lean_regions.hpp"

#include <gtest/gtest.h>

#include <cstddef>
#include <vector>

namespace lean_regions_test {

/// One cell that was driven for a minute.
fettle::cylinder_trims trims_of(const std::vector<double>& needed) {
  fettle::cylinder_trims result;
  for (const double correction : needed) result.correction.push_back({correction});
  result.seconds = {60};
  result.collector_lambda = {1.0};
  result.target_lambda = {1.0};
  return result;
}

using applied = std::vector<std::vector<double>>;

// Common practice, no source: at target mean, one or two lean cylinders hide behind rich ones.
TEST(LeanRegions, NameTheLeanCylinderThatTheCollectorHides) {
  const auto regions =
      fettle::lean_regions(trims_of({0.99, 1.05, 0.98, 0.98}), applied{{0.99}, {1.05}, {0.98}, {0.98}});
  ASSERT_EQ(regions.size(), 1U);
  EXPECT_EQ(regions[0].leanest, 2U);
  EXPECT_NEAR(regions[0].leanest_lambda, 1.05, 1e-12);
  EXPECT_NEAR(regions[0].leanest_after, 1, 1e-12);
  EXPECT_TRUE(regions[0].lean_alarm);
  EXPECT_TRUE(regions[0].hidden);
  EXPECT_NEAR(regions[0].spread_before, 0.07, 1e-12);
  EXPECT_LT(regions[0].spread_after, 1e-12);
  EXPECT_NEAR(regions[0].collector_after, 1, 1e-12);
}

TEST(LeanRegions, TheCollectorReadsRicherWhereALeanCylinderAloneGetsMore) {
  const auto regions = fettle::lean_regions(trims_of({0.99, 1.04, 0.99, 0.98}), applied{{1}, {1.04}, {1}, {1}});
  EXPECT_NEAR(regions[0].collector_after, 1 / 1.01, 1e-12);
  EXPECT_NEAR(regions[0].leanest_after, 1, 1e-12);
}

TEST(LeanRegions, ALeanCollectorHidesNothing) {
  auto trims = trims_of({0.99, 1.02, 0.99});
  trims.collector_lambda = {1.04};
  const auto regions = fettle::lean_regions(trims, applied{{1}, {1}, {1}});
  EXPECT_TRUE(regions[0].lean_alarm);
  EXPECT_FALSE(regions[0].hidden);
}

TEST(LeanRegions, LeaveOutWhereTheEngineNeverRan) {
  auto trims = trims_of({0.99, 1.01});
  trims.seconds = {0};
  EXPECT_TRUE(fettle::lean_regions(trims, applied{{1}, {1}}).empty());
}

TEST(LeanRegions, RefuseAnotherNumberOfCylindersOrCells) {
  EXPECT_THROW((void)fettle::lean_regions(trims_of({0.99, 1.01}), applied{{1}}), fettle::error);
  EXPECT_THROW((void)fettle::lean_regions(trims_of({0.99, 1.01}), applied{{1}, {1, 1}}), fettle::error);
}

}  // namespace lean_regions_test

// SPDX-License-Identifier: MIT
#include "fettle/lambda/detail/score_clusters.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <fstream>
#include <map>
#include <sstream>
#include <string>
#include <vector>

namespace {

using fettle::detail::score_clusters;
using fettle::detail::solve_small;

TEST(SolveSmall, SolvesWithRowExchanges) {
  std::vector<double> a{0, 2, 1, 1}, right{4, 3};
  solve_small(a, right);
  EXPECT_NEAR(right[0], 1, 1e-15);
  EXPECT_NEAR(right[1], 2, 1e-15);
}

/// A mean of four rows in two clusters: leaving one out gives the other's mean.
TEST(ScoreClusters, CorrectedScoresAreThoseOfAFitWithoutTheCluster) {
  const std::vector<double> value{1, 3, 10, 14};
  const double mean = 7, inverse = 0.25;
  score_clusters clusters(1, 1);
  for (std::size_t i = 0; i < 4; ++i) {
    const std::array<std::uint32_t, 1> cell{0};
    const std::array<double, 1> one{1};
    clusters.add({i / 2, 0}, cell, one, 1, value[i] - mean);
  }
  std::vector<double> moved;
  clusters.for_each([&](std::uint32_t, std::uint32_t) { return inverse; },
                    [&](const auto&, const std::vector<double>& score) { moved.push_back(inverse * score[0]); });
  ASSERT_EQ(moved.size(), 2U);
  EXPECT_NEAR(mean - moved[0], 12, 1e-12);  // the mean of the second cluster
  EXPECT_NEAR(mean - moved[1], 2, 1e-12);
}

}  // namespace

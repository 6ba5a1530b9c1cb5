// SPDX-License-Identifier: MIT
#include "fettle/lambda/detail/score_clusters.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <fstream>
#include <map>
#include <random>
#include <sstream>
#include <string>
#include <utility>
#include <vector>

#include "reference.hpp"

namespace score_clusters_test {

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
    const std::array<double, 1> share{1};
    clusters.add({i / 2, 0}, cell, share, 1, value[i] - mean);
  }
  std::vector<double> moved;
  clusters.for_each([&](std::uint32_t, std::uint32_t) { return inverse; },
                    [&](const auto&, const auto& score) { moved.push_back(inverse * score[0]); });
  ASSERT_EQ(moved.size(), 2U);
  EXPECT_NEAR(mean - moved[0], 12, 1e-12);  // the mean of the second cluster
  EXPECT_NEAR(mean - moved[1], 2, 1e-12);
}

// Published: CR3 by matrices in R on its CO2 data, lm(uptake ~ type + conc) by plant. Tolerance 1e-8 relative, for the
// rounding of another elimination.
TEST(ScoreClusters, LeavingOneOutHasTheStandardErrorsOfR) {
  constexpr std::size_t n = 3;
  const auto data = reference::csv::read("co2_uptake_data.csv");
  const auto plant = data.column("plant"), type = data.column("type"), conc = data.column("conc"),
             uptake = data.column("uptake");
  const std::array<std::uint32_t, n> unknown{0, 1, 2};
  std::vector<double> normal(n * n, 0.0), fit(n, 0.0), inverse(n * n);
  for (std::size_t i = 0; i < uptake.size(); ++i) {
    const std::array<double, n> x{1, type[i], conc[i]};
    for (std::size_t a = 0; a < n; ++a) {
      fit[a] += x[a] * uptake[i];
      for (std::size_t b = 0; b < n; ++b) normal[a * n + b] += x[a] * x[b];
    }
  }
  for (std::size_t k = 0; k < n; ++k) {
    std::vector<double> matrix = normal, unit(n, 0.0);
    unit[k] = 1;
    solve_small(matrix, unit);
    for (std::size_t i = 0; i < n; ++i) inverse[i * n + k] = unit[i];
  }
  solve_small(normal, fit);
  score_clusters clusters(n, 1);
  for (std::size_t i = 0; i < uptake.size(); ++i) {
    const std::array<double, n> x{1, type[i], conc[i]};
    clusters.add({static_cast<std::uint64_t>(plant[i]), 0}, unknown, x, 1,
                 uptake[i] - fit[0] - fit[1] * type[i] - fit[2] * conc[i]);
  }
  std::array<double, n> variance{};
  clusters.for_each([&](std::uint32_t i, std::uint32_t k) { return inverse[i * n + k]; },
                    [&](const auto& met, const auto& score) {
                      for (std::size_t k = 0; k < n; ++k) {
                        double moved = 0;
                        for (std::size_t i = 0; i < met.size(); ++i) moved += inverse[k * n + met[i]] * score[i];
                        variance[k] += moved * moved;
                      }
                    });
  std::size_t compared = 0;
  for (const auto& row : reference::csv::read("co2_uptake_clustered.csv").rows) {
    if (row.at("cluster") != "plant" || row.at("type") != "CR3") continue;
    const std::size_t k = row.at("coefficient") == "type" ? 1 : row.at("coefficient") == "conc" ? 2 : 0;
    EXPECT_NEAR(std::sqrt(variance[k]) / reference::csv::number(row, "standard_error"), 1, 1e-8) << k;
    ++compared;
  }
  EXPECT_EQ(compared, n);
}

// The mean of noise of which each value keeps a part r of the one before has (1 + r) / (1 - r) times the variance that
// independent noise would give it (closed form); blocks of 200 rows fall short of that by 2 r / (200 (1 - r)^2).
TEST(ScoreClusters, BlocksOfTimeStateTheErrorOfAMeanOfCorrelatedNoise) {
  constexpr std::size_t block = 200, blocks = 4000;
  for (const double kept : {0.0, 0.5, 0.9}) {
    std::mt19937_64 engine(7);
    std::normal_distribution<double> normal;
    score_clusters clusters(1, 0);
    const std::array<std::uint32_t, 1> cell{0};
    const std::array<double, 1> share{1};
    double noise = normal(engine) / std::sqrt(1 - kept * kept), squares = 0, sums = 0;
    for (std::size_t i = 0; i < block * blocks; ++i) {
      clusters.add({i / block, 0}, cell, share, 1, noise);
      squares += noise * noise;
      noise = kept * noise + normal(engine);
    }
    clusters.for_each([](std::uint32_t, std::uint32_t) { return 0.0; },
                      [&](const auto&, const auto& score) { sums += score[0] * score[0]; });
    const double expected = (1 + kept) / (1 - kept) - 2 * kept / (block * (1 - kept) * (1 - kept));
    EXPECT_NEAR(sums / squares / expected, 1, 4 * std::sqrt(2.0 / blocks)) << kept;
  }
}

/// Rows added in two parts that meet other unknowns first are the rows added in one.
TEST(ScoreClusters, MergedPartsAreTheWhole) {
  const auto add = [](score_clusters& to, std::uint32_t i) {
    const std::array<std::uint32_t, 2> cell{i % 3, 3 + i % 2};
    const std::array<double, 2> factor{1, 0.5};
    to.add({i % 4, 0}, cell, factor, 1 + 0.1 * i, 0.3 * i - 1);
  };
  const auto scores = [](const score_clusters& from) {
    std::map<std::pair<std::size_t, std::uint32_t>, double> result;
    std::size_t number = 0;
    from.for_each([](std::uint32_t i, std::uint32_t k) { return i == k ? 0.01 : 0.002; },
                  [&](const auto& unknown, const auto& score) {
                    for (std::size_t k = 0; k < unknown.size(); ++k) result[{number, unknown[k]}] = score[k];
                    ++number;
                  });
    return result;
  };
  score_clusters whole(5), first(5), second(5);
  for (std::uint32_t i = 0; i < 24; ++i) add(whole, i);
  for (std::uint32_t i = 0; i < 10; ++i) add(first, i);
  for (std::uint32_t i = 23; i >= 10; --i) add(second, i);
  first.merge(second);
  const auto expected = scores(whole), merged = scores(first);
  ASSERT_EQ(first.size(), whole.size());
  ASSERT_EQ(merged.size(), expected.size());
  for (const auto& [where, value] : expected) EXPECT_NEAR(merged.at(where), value, 1e-12);
}

}  // namespace score_clusters_test

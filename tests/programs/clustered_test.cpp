// SPDX-License-Identifier: MIT
#include "compare_pulls/clustered.hpp"

#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <string>
#include <utility>
#include <vector>

#include "compare_pulls/pulls_needed.hpp"
#include "reference.hpp"

namespace clustered_test {

using compare_pulls::adjustment;
using compare_pulls::clustered_fit;
using compare_pulls::estimate;
using ranges = std::vector<std::pair<Eigen::Index, Eigen::Index>>;

/// lm(uptake ~ type + conc) on R's CO2 data, clustered by plant.
clustered_fit uptake(adjustment how) {
  const auto data = reference::csv::read("co2_uptake_data.csv");
  const auto plant = data.column("plant"), type = data.column("type"), conc = data.column("conc"),
             uptake = data.column("uptake");
  const auto n = static_cast<Eigen::Index>(plant.size());
  Eigen::MatrixXd x(n, 3);
  Eigen::VectorXd y(n);
  ranges clusters;
  for (Eigen::Index i = 0; i < n; ++i) {
    const auto row = static_cast<std::size_t>(i);
    x.row(i) << 1, type[row], conc[row];
    y[i] = uptake[row];
    if (row == 0 || plant[row] != plant[row - 1]) clusters.emplace_back(i, 0);
    ++clusters.back().second;
  }
  return {x, y, clusters, Eigen::MatrixXd::Zero(3, 3), how};
}

// Published: R package sandwich, vcovCL without adjustment (HC0); CR3 by matrices in R, in co2_uptake_clustered.csv with
// 15 digits. Tolerance 1e-8 relative, for the rounding of another factorisation.
TEST(ClusteredFit, HasTheStandardErrorsOfR) {
  int compared = 0;
  for (const auto& row : reference::csv::read("co2_uptake_clustered.csv").rows) {
    const std::string type = row.at("type"), name = row.at("coefficient");
    if (row.at("cluster") != "plant" || (type != "HC0" && type != "CR3")) continue;
    const auto fit = uptake(type == "HC0" ? adjustment::cr0 : adjustment::cr3);
    const Eigen::Vector3d which = Eigen::Vector3d::Unit(name == "type" ? 1 : name == "conc" ? 2 : 0);
    EXPECT_NEAR(fit(which).standard_error / reference::csv::number(row, "standard_error"), 1, 1e-8) << type << name;
    EXPECT_NEAR(fit(which).value / reference::csv::number(row, "value"), 1, 1e-9);
    ++compared;
  }
  EXPECT_EQ(compared, 6);
}

TEST(ClusteredFit, OfCr2LiesBetweenNoneAndLeavingOut) {
  for (int k = 0; k < 3; ++k) {
    const auto error = [&](adjustment how) { return uptake(how)(Eigen::Vector3d::Unit(k)).standard_error; };
    EXPECT_LT(error(adjustment::cr0), error(adjustment::cr2));
    EXPECT_LT(error(adjustment::cr2), error(adjustment::cr3));
  }
}

// Two groups, every reading its own cluster: Welch's t test. Its variance is exactly s1^2/n1 + s2^2/n2, its degrees of
// freedom for equal scatter (1/n1 + 1/n2)^2 / (1/(n1^2 (n1-1)) + 1/(n2^2 (n2-1))) (closed form).
TEST(ClusteredFit, OfTwoGroupsIsWelchsTest) {
  const std::vector<double> first{201.2, 203.9, 199.7}, second{204.4, 202.8, 206.1, 205.0, 203.3};
  Eigen::MatrixXd x = Eigen::MatrixXd::Zero(8, 2);
  Eigen::VectorXd y(8);
  ranges each;
  for (Eigen::Index i = 0; i < 8; ++i) {
    x(i, i < 3 ? 0 : 1) = 1;
    y[i] = i < 3 ? first[static_cast<std::size_t>(i)] : second[static_cast<std::size_t>(i - 3)];
    each.emplace_back(i, 1);
  }
  const clustered_fit fit(x, y, each, Eigen::MatrixXd::Zero(2, 2));
  const estimate difference = fit(Eigen::Vector2d(-1, 1));
  const auto variance = [](const std::vector<double>& sample) {
    double mean = 0, squares = 0;
    for (const double value : sample) mean += value / static_cast<double>(sample.size());
    for (const double value : sample) squares += (value - mean) * (value - mean);
    return squares / static_cast<double>(sample.size() - 1);
  };
  EXPECT_NEAR(difference.standard_error, std::sqrt(variance(first) / 3 + variance(second) / 5), 1e-12);
  EXPECT_NEAR(difference.freedom, std::pow(1.0 / 3 + 1.0 / 5, 2) / (1.0 / (9 * 2) + 1.0 / (25 * 4)), 1e-9);
}

// A cluster of equal readings counts once, however many rows it has: rows within a pull do not add knowledge.
TEST(ClusteredFit, DoesNotGrowSureWithRowsOfOneCluster) {
  const auto error = [](Eigen::Index rows) {
    Eigen::MatrixXd x = Eigen::MatrixXd::Ones(4 * rows, 1);
    Eigen::VectorXd y(4 * rows);
    ranges clusters;
    for (Eigen::Index c = 0; c < 4; ++c) {
      y.segment(c * rows, rows).setConstant(std::array{1.0, 3.0, 2.0, 7.0}[static_cast<std::size_t>(c)]);
      clusters.emplace_back(c * rows, rows);
    }
    return clustered_fit(x, y, clusters, Eigen::MatrixXd::Zero(1, 1))(Eigen::VectorXd::Ones(1));
  };
  EXPECT_NEAR(error(1).standard_error, error(50).standard_error, 1e-12);
  EXPECT_NEAR(error(50).freedom, 3, 1e-9);
}

// Sample size of a two-sided t test at 5 % for 95 % power and a difference of one standard deviation: 27 a group in the
// usual tables (from memory), 26 by the normal formula 2 (1.960 + 1.645)^2.
TEST(PullsNeeded, OfAKnownScatterAreThoseOfTheTables) {
  EXPECT_NEAR(static_cast<double>(compare_pulls::units_needed({1.0, 1e5}, 1.0)), 27, 1);
}

TEST(PullsNeeded, RiseWithScatterAndWithWhatIsNotKnownOfIt) {
  using compare_pulls::units_needed;
  EXPECT_LT(units_needed({0.004, 8}, 0.01), units_needed({0.006, 8}, 0.01));
  EXPECT_LT(units_needed({0.004, 100}, 0.01), units_needed({0.004, 4}, 0.01));
  EXPECT_EQ(units_needed({0.004, 8}, 0.01, 2 * 0.003 * 0.003), 0U);  // more pulls do not lower what sets add
  EXPECT_GT(units_needed({0.004, 8}, 0.03, 2 * 0.003 * 0.003), 0U);
  EXPECT_EQ(units_needed({0.0, 0.0}, 0.01), 0U);
}

TEST(Estimate, AddsAKnownVarianceWithoutLosingFreedom) {
  const estimate a{1, 0.3, 4};
  const auto sum = compare_pulls::with_variance(a, 0.16);
  EXPECT_NEAR(sum.standard_error, 0.5, 1e-12);
  EXPECT_NEAR(sum.freedom, 4 * std::pow(0.25 / 0.09, 2), 1e-9);
}

}  // namespace clustered_test

// SPDX-License-Identifier: MIT
#include "fettle/lambda/detail/censored.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <cstddef>
#include <limits>
#include <string>
#include <vector>

#include "fettle/lambda/detail/score_clusters.hpp"
#include "reference.hpp"

namespace censored_test {

using fettle::detail::censored_row;
using fettle::detail::inverse_mills_ratio;

// From the normal density over the complementary error function of Python 3.11, math.erfc.
TEST(InverseMillsRatio, IsThatOfTheNormalDistributionFarIntoTheTail) {
  EXPECT_NEAR(inverse_mills_ratio(0), 0.7978845608, 1e-10);
  EXPECT_NEAR(inverse_mills_ratio(-3), 3.2830986549, 1e-10);
  EXPECT_NEAR(inverse_mills_ratio(-10), 10.0980932339, 1e-10);
  EXPECT_NEAR(inverse_mills_ratio(-200), 200.005, 1e-4);
  EXPECT_LT(inverse_mills_ratio(30), 1e-100);
}

TEST(CensoredRow, WeighsNothingFarInsideTheAgreementAndPullsToTheEndWhenContradicted) {
  EXPECT_LT(censored_row::at_end(0.1, 0.01).weight, 1e-8);
  const auto contradicted = censored_row::at_end(-0.2, 0.01);
  EXPECT_NEAR(contradicted.weight, 1, 0.01);
  EXPECT_NEAR(contradicted.residual, 0.2, 0.002);
}

// The score of ln Phi(z) is pdf(z) / Phi(z), over the noise.
TEST(CensoredRow, HasTheScoreOfItsLikelihood) {
  for (const double margin : {-0.03, -0.01, 0.0, 0.01, 0.02}) {
    const double noise = 0.01, step = 1e-6;
    const auto row = censored_row::at_end(margin, noise);
    const auto log_phi = [&](double m) { return std::log(0.5 * std::erfc(-m / noise / std::sqrt(2.0))); };
    const double slope = (log_phi(margin + step) - log_phi(margin - step)) / (2 * step);
    EXPECT_NEAR(row.weight * row.residual / (noise * noise), slope, 1e-4 * slope + 1e-6);
  }
}

/// Regression of readings seen only between two ends, by the rows of weighted least squares at known noise.
std::vector<double> tobit(const reference::csv& data, const std::string& response,
                          const std::vector<std::string>& names, double noise, double lower, double upper) {
  std::vector<std::vector<double>> x{std::vector<double>(data.rows.size(), 1.0)};
  for (const auto& name : names) x.push_back(data.column(name));
  const auto y = data.column(response);
  const std::size_t n = x.size();
  std::vector<double> coefficient(n, 0.0);
  for (int round = 0; round < 200; ++round) {
    std::vector<double> normal(n * n, 0.0), moment(n, 0.0);
    for (std::size_t i = 0; i < y.size(); ++i) {
      double predicted = 0;
      for (std::size_t k = 0; k < n; ++k) predicted += coefficient[k] * x[k][i];
      censored_row row{y[i] - predicted, 1};
      if (y[i] <= lower) {
        row = censored_row::at_end(lower - predicted, noise);
        row.residual = -row.residual;
      } else if (y[i] >= upper) {
        row = censored_row::at_end(predicted - upper, noise);
      }
      for (std::size_t a = 0; a < n; ++a) {
        moment[a] += row.weight * row.residual * x[a][i];
        for (std::size_t b = 0; b < n; ++b) normal[a * n + b] += row.weight * x[a][i] * x[b][i];
      }
    }
    fettle::detail::solve_small(normal, moment);
    for (std::size_t k = 0; k < n; ++k) coefficient[k] += moment[k];
  }
  return coefficient;
}

constexpr double no_end = std::numeric_limits<double>::infinity();

// Published: R package survival, survreg on the data of Tobin (1958); the noise is the published one. Tolerance 1e-6
// relative, of the published convergence.
TEST(CensoredRow, GivesTheRegressionOfTobinsHouseholds) {
  const auto published = reference::csv::read("tobin_tobit.csv").column("value");
  const auto coefficient =
      tobit(reference::csv::read("tobin_data.csv"), "durable", {"age", "quant"}, std::exp(published[3]), 0, no_end);
  for (std::size_t k = 0; k < 3; ++k) EXPECT_NEAR(coefficient[k] / published[k], 1, 1e-6) << k;
}

// Published: R package AER, tobit on the data of Fair (1978), censored at 0, and at 0 and 4.
TEST(CensoredRow, GivesRegressionsThatAreCensoredAtOneAndAtBothEnds) {
  const auto data = reference::csv::read("affairs_data.csv");
  const auto published = reference::csv::read("affairs_tobit.csv").column("value");
  ASSERT_EQ(published.size(), 14U);
  for (const std::size_t first : {0U, 7U}) {
    const auto coefficient = tobit(data, "affairs", {"age", "yearsmarried", "religiousness", "occupation", "rating"},
                                   std::exp(published[first + 6]), 0, first == 0 ? no_end : 4);
    for (std::size_t k = 0; k < 6; ++k)
      EXPECT_NEAR(coefficient[k] / published[first + k], 1, 1e-6) << first << ' ' << k;
  }
}

}  // namespace censored_test

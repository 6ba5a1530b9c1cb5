// SPDX-License-Identifier: MIT
#include "fettle/lambda/detail/censored.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace {

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

}  // namespace

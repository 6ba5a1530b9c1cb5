// SPDX-License-Identifier: MIT
#include "fettle/lambda/evidence_of.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <cstddef>
#include <vector>

namespace {

fettle::identification found(const std::vector<double>& correction, const std::vector<double>& error,
                             const std::vector<double>& passes) {
  fettle::identification result;
  result.correction = correction;
  result.standard_error = error;
  result.passes = passes;
  result.seconds.assign(correction.size(), 9.0);
  result.lean_end_share.assign(correction.size(), 0.0);
  result.agreement.assign(correction.size(), 0.9);
  return result;
}

TEST(EvidenceOf, TakesWellKnownCellsAsTheyAre) {
  auto well = found({1.08, 0.95}, {0.004, 0.005}, {200, 100});
  well.common_error = 0.002;
  well.lean_end_share[1] = 0.1;
  const auto cells = fettle::evidence_of(well);
  EXPECT_NEAR(cells[0].correction, 1.08, 1e-3);
  EXPECT_NEAR(cells[0].standard_error, 0.004, 1e-4);
  EXPECT_EQ(cells[0].common_error, 0.002);
  EXPECT_EQ(cells[1].lean_end_share, 0.1);
  EXPECT_EQ(cells[1].passes, 100);
  EXPECT_EQ(cells[1].seconds, 9);
}

TEST(EvidenceOf, ACellSeenInOneThrottleLiftIsNotKnownHoweverManyRowsTheLogHasOfIt) {
  const fettle::pass_errors errors{.one_pass = 0.03, .cells = 0.10};
  const auto cells = fettle::evidence_of(found({1.0, 1.0, 1.0}, {0.001, 0.001, 0.001}, {1, 4, 0}), errors);
  EXPECT_NEAR(cells[0].standard_error, 1 / std::hypot(1 / 0.03, 1 / 0.10), 1e-12);
  EXPECT_NEAR(cells[1].standard_error, 1 / std::hypot(1 / 0.015, 1 / 0.10), 1e-12);
  EXPECT_EQ(cells[2].standard_error, 0.001);  // known from its surroundings alone
}

TEST(EvidenceOf, AWildEstimateThatIsHardlyKnownGoesToTheCommonLevelOfTheOthers) {
  std::vector<double> correction(30, 1.05), error(30, 0.004), passes(30, 50);
  correction[7] = 1.60;
  error[7] = 0.20;
  passes[7] = 1;
  const auto cells = fettle::evidence_of(found(correction, error, passes));
  EXPECT_NEAR(std::log(cells[7].correction), std::log(1.05) + 0.2 * std::log(1.60 / 1.05), 0.01);  // 1 : 4 by variance
  EXPECT_NEAR(cells[7].standard_error, 0.0894, 1e-4);
  EXPECT_NEAR(cells[8].correction, 1.05, 1e-3);
}

TEST(EvidenceOf, ATrimKeepsItsOwnErrors) {
  fettle::cylinder_trims trims;
  trims.correction = {{1.01}, {0.99}};
  trims.standard_error = {{0.003}, {0.004}};
  trims.passes = {{3}, {5}};
  trims.lean_end_share = {{0}, {0.2}};
  trims.agreement = {{0.9}, {0.8}};
  trims.seconds = {7};
  const auto second = fettle::evidence_of(trims, 1);
  ASSERT_EQ(second.size(), 1U);
  EXPECT_EQ(second[0].correction, 0.99);
  EXPECT_EQ(second[0].standard_error, 0.004);
  EXPECT_EQ(second[0].seconds, 7);
  EXPECT_EQ(second[0].passes, 5);
  EXPECT_EQ(second[0].lean_end_share, 0.2);
  EXPECT_EQ(second[0].agreement, 0.8);
}

TEST(EvidenceOf, RefusesSpreadsThatHaveNoMeaning) {
  EXPECT_THROW((void)fettle::evidence_of(found({1}, {0.01}, {1}), {.cells = 0}), fettle::error);
  EXPECT_THROW((void)fettle::evidence_of(found({1}, {0.01}, {1}), {.one_pass = -1}), fettle::error);
}

}  // namespace

// SPDX-License-Identifier: MIT
#include "fettle/lambda/evidence_of.hpp"

#include <gtest/gtest.h>

#include <cstddef>
#include <vector>

namespace evidence_of_test {

fettle::identification identified(const std::vector<double>& correction, const std::vector<double>& error,
                                  const std::vector<double>& passes) {
  fettle::identification result;
  result.correction = correction;
  result.standard_error = error;
  result.passes = passes;
  result.seconds.assign(correction.size(), 9.0);
  result.lean_end_share.assign(correction.size(), 0.0);
  result.agreement.assign(correction.size(), 0.9);
  result.exhaust_flow_share.assign(correction.size(), 0.05);
  return result;
}

TEST(EvidenceOf, TakesCellsAsTheyWereIdentified) {
  auto well = identified({1.08, 0.95}, {0.004, 0.005}, {200, 100});
  well.common_error = 0.002;
  well.lean_end_share[1] = 0.1;
  const auto cells = fettle::evidence_of(well);
  EXPECT_EQ(cells[0].correction, 1.08);
  EXPECT_EQ(cells[0].standard_error, 0.004);
  EXPECT_EQ(cells[0].common_error, 0.002);
  EXPECT_EQ(cells[1].lean_end_share, 0.1);
  EXPECT_EQ(cells[1].passes, 100);
  EXPECT_EQ(cells[1].seconds, 9);
  EXPECT_NEAR(cells[1].false_lean, 0.015, 1e-12);
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

}  // namespace evidence_of_test

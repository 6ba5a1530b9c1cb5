// SPDX-License-Identifier: MIT
#include "fettle/lambda/correct.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>
#include <vector>

namespace {

using fettle::cell_state;

fettle::dynamic_table<double> row_of(std::vector<double> values) {
  std::vector<double> points;
  for (std::size_t i = 0; i < values.size(); ++i) points.push_back(static_cast<double>(i));
  return *fettle::dynamic_table<double>::from({*fettle::dynamic_axis<double>::from(points)}, std::move(values));
}

fettle::identification found(std::vector<double> correction, std::vector<double> error, std::vector<double> readings) {
  fettle::identification result;
  result.correction = std::move(correction);
  result.standard_error = std::move(error);
  result.readings = std::move(readings);
  result.agreement.assign(result.correction.size(), 0.9);
  return result;
}

TEST(Correct, NamesWhatItDidWithEachCell) {
  const auto base = row_of({10, 10, 10, 10, 10, 10});
  const auto result = fettle::correct(
      base, found({1.08, 1.30, 0.80, 1.10, 1.10, 1.10}, {.002, .002, .002, .05, .002, .1}, {500, 500, 500, 500, 3, 0}));
  const std::vector<cell_state> expected{cell_state::changed, cell_state::limited, cell_state::limited,
                                         cell_state::held,    cell_state::held,    cell_state::unknown};
  EXPECT_EQ(result.state, expected);
  EXPECT_DOUBLE_EQ(result.map.values()[0], 10.8);
  EXPECT_DOUBLE_EQ(result.map.values()[1], 11.5);  // at most 15 % richer
  EXPECT_DOUBLE_EQ(result.map.values()[2], 9.5);   // at most 5 % leaner
  for (const std::size_t k : {3U, 4U, 5U}) EXPECT_EQ(result.map.values()[k], 10);
  EXPECT_EQ(result.cells(cell_state::held), (std::vector<std::size_t>{3, 4}));
}

TEST(Correct, HoldsACellWhoseReadingsContradictTheModel) {
  auto one = found({1.05, 1.05}, {.002, .002}, {500, 500});
  one.agreement[1] = 0.3;
  const auto result = fettle::correct(row_of({10, 10}), one);
  EXPECT_EQ(result.state[0], cell_state::changed);
  EXPECT_EQ(result.state[1], cell_state::held);
}

TEST(Correct, HoldsACellWhoseCorrectionIsNotANumber) {
  const auto result = fettle::correct(row_of({10, 10}), found({std::nan(""), 1.05}, {.002, .002}, {500, 500}));
  EXPECT_EQ(result.state[0], cell_state::held);
  EXPECT_EQ(result.applied[0], 1);
  EXPECT_EQ(result.map.values()[0], 10);
  EXPECT_EQ(result.state[1], cell_state::changed);
}

TEST(Correct, FollowsThinEvidenceInPart) {
  const auto result = fettle::correct(row_of({10, 10}), found({1.10, 1.10}, {.015, .005}, {500, 500}));
  EXPECT_NEAR(result.confidence[0], 0.5, 1e-12);
  EXPECT_NEAR(result.applied[0], 1.05, 1e-12);
  EXPECT_EQ(result.confidence[1], 1);
}

RC_GTEST_PROP(Correct, NeverLeavesItsAuthority, ()) {
  const double correction = *rc::gen::inRange(300, 3000) * 1e-3, error = *rc::gen::inRange(0, 100) * 1e-3;
  const double readings = *rc::gen::inRange(0, 200), richer = *rc::gen::inRange(0, 50) * 1e-2,
               leaner = *rc::gen::inRange(0, 50) * 1e-2;
  const auto result = fettle::correct(row_of({10, 10}), found({correction, 1}, {error, .1}, {readings, 0}),
                                      {.richer = richer, .leaner = leaner});
  RC_ASSERT(result.map.values()[0] >= 10 * (1 - leaner) - 1e-12);
  RC_ASSERT(result.map.values()[0] <= 10 * (1 + richer) + 1e-12);
  RC_ASSERT(result.map.values()[1] == 10.0);
}

TEST(Correct, RefusesLimitsWithoutMeaning) {
  const auto base = row_of({1, 1});
  const auto one = found({1, 1}, {.1, .1}, {1, 1});
  EXPECT_THROW((void)fettle::correct(base, one, {.leaner = 1.0}), fettle::error);
  EXPECT_THROW((void)fettle::correct(base, one, {.richer = -0.1}), fettle::error);
  EXPECT_THROW((void)fettle::correct(row_of({1, 1, 1}), one), fettle::error);
}

}  // namespace

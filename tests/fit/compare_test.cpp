// SPDX-License-Identifier: MIT
#include "fettle/fit/compare.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <string>

namespace compare_test {

using fettle::dynamic_axis;
using fettle::dynamic_table;

dynamic_table<double> map_of(std::vector<double> values) {
  return *dynamic_table<double>::from(
      {*dynamic_axis<double>::from({1000, 2000, 3000}), *dynamic_axis<double>::from({0, 50})}, std::move(values));
}

TEST(Compare, NamesWhatChangedAndWhereMost) {
  const auto comparison = fettle::compare(map_of({1, 2, 3, 4, 5, 6}), map_of({1, 2.5, 3, 4, 4, 6}));
  EXPECT_EQ(comparison.changed, (std::vector<std::size_t>{1, 4}));
  EXPECT_EQ(comparison.largest, 4U);
  EXPECT_EQ(comparison.largest_change, -1);
  EXPECT_DOUBLE_EQ(comparison.rms, std::sqrt(1.25 / 6));
  EXPECT_EQ(fettle::to_text(comparison),
            "2 of 6 cells changed; largest change -1 at cell (3000, 0), rms 0.456435\n"
            "  cell (1000, 50): 0.5\n"
            "  cell (3000, 0): -1\n");
  EXPECT_EQ(fettle::to_text(comparison, 1),
            "2 of 6 cells changed; largest change -1 at cell (3000, 0), rms 0.456435\n"
            "  cell (1000, 50): 0.5\n"
            "  and 1 more\n");
}

TEST(Compare, CountsNothingBelowTheTolerance) {
  const auto comparison = fettle::compare(map_of({1, 2, 3, 4, 5, 6}), map_of({1.01, 2, 3, 4, 5, 6.3}), 0.1);
  EXPECT_EQ(comparison.changed, (std::vector<std::size_t>{5}));
  EXPECT_EQ(fettle::to_text(fettle::compare(map_of({1, 2, 3, 4, 5, 6}), map_of({1, 2, 3, 4, 5, 6}))),
            "no cell changed\n");
}

TEST(Compare, TakesAHoleThatWasFilledForAChangeWithoutASize) {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  const auto comparison = fettle::compare(map_of({nan, nan, 3, 4, 5, 6}), map_of({1, nan, 3, 4, 5, 7}));
  EXPECT_EQ(comparison.changed, (std::vector<std::size_t>{0, 5}));
  EXPECT_TRUE(std::isnan(comparison.change.values()[0]));
  EXPECT_EQ(comparison.change.values()[1], 0);
  EXPECT_EQ(comparison.largest, 5U);
}

TEST(Compare, TakesTwoInfinitiesForTheSame) {
  const double infinite = std::numeric_limits<double>::infinity();
  EXPECT_TRUE(fettle::compare(map_of({infinite, 2, 3, 4, 5, 6}), map_of({infinite, 2, 3, 4, 5, 6})).changed.empty());
}

TEST(Compare, NamesTheBreakpointWhereShapesDiffer) {
  const auto other = *dynamic_table<double>::from(
      {*dynamic_axis<double>::from({1000, 2500, 3000}), *dynamic_axis<double>::from({0, 50})}, {1, 2, 3, 4, 5, 6});
  try {
    (void)fettle::compare(map_of({1, 2, 3, 4, 5, 6}), other);
    FAIL();
  } catch (const fettle::error& refusal) {
    EXPECT_STREQ(refusal.what(), "compare: axis 0 differs at breakpoint 1: 2000 and 2500");
  }
}

}  // namespace compare_test

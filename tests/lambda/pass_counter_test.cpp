// SPDX-License-Identifier: MIT
#include "fettle/lambda/detail/pass_counter.hpp"

#include <gtest/gtest.h>

TEST(PassCounter, CountsVisitsAndNotReadings) {
  fettle::detail::pass_counter passes(2);
  for (int i = 0; i < 100; ++i) passes.add(0, 0.8, 0, 0.01 * i);
  EXPECT_EQ(passes.count()[0], 1);
  passes.add(0, 0.8, 0, 5);
  passes.add(0, 0.8, 1, 5);
  EXPECT_EQ(passes.count()[0], 3);
  EXPECT_EQ(passes.count()[1], 0);
}

TEST(PassCounter, DoesNotCountWhatHardlyTouchesACell) {
  fettle::detail::pass_counter passes(1);
  passes.add(0, 0.05, 0, 1);
  EXPECT_EQ(passes.count()[0], 0);
}

// SPDX-License-Identifier: MIT
#include "fettle/lambda/detail/extrapolated_steps.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <vector>

namespace extrapolated_steps_test {

using fettle::detail::extrapolated_steps;

/// Rounds of x = next(x) from a start until nothing moves.
template <class Next>
int rounds_to_rest(double x, double answer, const Next& next) {
  extrapolated_steps steps;
  for (int round = 1; round < 100; ++round) {
    x += steps.next({x}, {next(x) - x}, {1})[0];
    if (std::abs(x - answer) < 1e-9) return round;
  }
  return 100;
}

TEST(ExtrapolatedSteps, LandOnTheEndOfAStraightIterationWithTheSecond) {
  for (const double rate : {-4.0, -1.0, -0.5, 0.0, 0.5, 0.75})
    EXPECT_LE(rounds_to_rest(10, 3, [&](double x) { return 3 + rate * (x - 3); }), 2) << rate;
}

// The number that is its own cosine, 0.7390851332 (OEIS A003957); by itself the iteration takes some fifty rounds.
TEST(ExtrapolatedSteps, FindTheNumberThatIsItsOwnCosineInSixRounds) {
  EXPECT_LE(rounds_to_rest(1, 0.73908513321516064, [](double x) { return std::cos(x); }), 6);
}

TEST(ExtrapolatedSteps, GoNoFurtherThanFourTimesAStepThatDoesNotShrink) {
  extrapolated_steps steps;
  EXPECT_EQ(steps.next({0}, {1}, {1})[0], 1);
  EXPECT_EQ(steps.next({1}, {1}, {1})[0], 1) << "nothing to learn from";
  EXPECT_NEAR(steps.next({2}, {0.9}, {1})[0], 0.9 + 3 * 0.9, 1e-12);
}

TEST(ExtrapolatedSteps, CompareStepsInTheSizesOfTheirUnknowns) {
  for (const double size : {1e-3, 1e3}) {
    extrapolated_steps steps;
    (void)steps.next({0, 0}, {1, size}, {1, size});
    const auto next = steps.next({1, size}, {0.5, 0.5 * size}, {1, size});
    EXPECT_NEAR(next[0], 1, 1e-12);
    EXPECT_NEAR(next[1], size, 1e-12 * size);
  }
}

TEST(ExtrapolatedSteps, RememberNothingOfAnotherIteration) {
  extrapolated_steps steps;
  (void)steps.next({0}, {1}, {1});
  steps.forget();
  EXPECT_EQ(steps.next({1}, {0.5}, {1})[0], 0.5);
}

}  // namespace extrapolated_steps_test

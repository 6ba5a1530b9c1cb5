// SPDX-License-Identifier: MIT
#include "fettle/fit/smooth.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "fettle/fit/fill.hpp"
#include "reference.hpp"

namespace smooth_test {

using fettle::dynamic_axis;
using fettle::dynamic_table;

constexpr double nan = std::numeric_limits<double>::quiet_NaN();
constexpr double endless = std::numeric_limits<double>::infinity();

dynamic_axis<double> axis_of(std::size_t points) {
  std::vector<double> x;
  for (std::size_t i = 0; i < points; ++i) x.push_back(500 * static_cast<double>(i) + (i % 3 == 1 ? 120.0 : 0.0));
  return *dynamic_axis<double>::from(x);
}

template <class Function>
dynamic_table<double> sampled(std::size_t rows, std::size_t columns, Function&& f) {
  std::vector<double> values;
  const auto x = axis_of(rows), y = axis_of(columns);
  for (const double a : x.points())
    for (const double b : y.points()) values.push_back(f(a, b));
  return *dynamic_table<double>::from({x, y}, std::move(values));
}

/// A wavy surface with noise of standard deviation 0.1 that repeats itself.
dynamic_table<double> noisy_map() {
  int draw = 0;
  return sampled(12, 10, [&](double x, double y) {
    const double noise = 0.1 * std::numbers::sqrt2 * std::sin(1.7 * draw * draw);
    ++draw;
    return 5 + std::sin(x / 1500) + std::cos(y / 2000) + noise;
  });
}

// Published: Nile flow smoothed by second differences, strength 1600, equal to the Hodrick-Prescott filter of
// statsmodels (tests/reference/nile_whittaker.csv). On an even axis of n breakpoints the curvature penalty is
// (n - 1)^3 times that of plain second differences. Tolerance 1e-8 relative.
TEST(SmoothRank1, MatchesHodrickPrescottOnTheNile) {
  const auto data = reference::csv::read("nile_whittaker.csv");
  const auto year = data.column("year"), flow = data.column("y"), expected = data.column("d2_1600");
  const auto table = *dynamic_table<double>::from({*dynamic_axis<double>::from(year)}, flow);
  const double cells = static_cast<double>(flow.size() - 1);
  const auto smoothed =
      fettle::smooth(table, {.smooth = std::vector<double>{1600 / (cells * cells * cells)}, .most_errors = endless});
  for (std::size_t i = 0; i < flow.size(); ++i)
    EXPECT_NEAR(smoothed.table.values()[i], expected[i], 1e-8 * expected[i]);
}

RC_GTEST_PROP(Smooth, LeavesPlanesAloneWhateverTheStrength, ()) {
  const double a = *rc::gen::inRange(-50, 50) * 0.1, b = *rc::gen::inRange(-50, 50) * 1e-4,
               c = *rc::gen::inRange(-50, 50) * 1e-4, twist = *rc::gen::inRange(-50, 50) * 1e-7;
  const auto plane = sampled(*rc::gen::inRange<std::size_t>(2, 9), *rc::gen::inRange<std::size_t>(2, 9),
                             [&](double x, double y) { return a + b * x + c * y + twist * x * y; });
  const double along_rows = std::pow(10.0, *rc::gen::inRange(-4, 4)),
               along_columns = std::pow(10.0, *rc::gen::inRange(-4, 4));
  const auto smoothed =
      fettle::smooth(plane, {.smooth = std::vector<double>{along_rows, along_columns}, .most_errors = endless});
  RC_ASSERT(smoothed.is_determined());
  for (std::size_t k = 0; k < plane.size(); ++k)
    RC_ASSERT(std::abs(smoothed.table.values()[k] - plane.values()[k]) < 1e-8 * (1 + std::abs(plane.values()[k])));
}

// One strength means the same in any unit, from any origin: the penalty is scaled by the span.
RC_GTEST_PROP(Smooth, DoesNotDependOnTheUnitOfAnAxis, ()) {
  const auto table = noisy_map();
  const double factor = std::pow(10.0, *rc::gen::inRange(-3, 4)), offset = *rc::gen::inRange(-10, 10) * factor;
  std::vector<double> x;
  for (const double point : table.axes()[0].points()) x.push_back(factor * point + offset);
  const std::vector<double> values(table.values().begin(), table.values().end());
  const auto other = *dynamic_table<double>::from({*dynamic_axis<double>::from(x), table.axes()[1]}, values);
  const fettle::smooth_options options{.smooth = std::vector<double>{std::pow(10.0, *rc::gen::inRange(-4, 2)), 0.1},
                                       .most_errors = endless};
  const auto smoothed = fettle::smooth(table, options), same = fettle::smooth(other, options);
  for (std::size_t k = 0; k < table.size(); ++k)
    RC_ASSERT(std::abs(smoothed.table.values()[k] - same.table.values()[k]) < 1e-8);  // of cells of about 5: rounding
}

RC_GTEST_PROP(Smooth, NeverMovesACellByMoreThanItsStandardErrorsAllow, ()) {
  const auto table = noisy_map();
  auto error = *rc::gen::container<std::vector<double>>(
      table.size(), rc::gen::map(rc::gen::inRange(1, 40), [](int e) { return 0.01 * e; }));
  const double most = *rc::gen::element(0.5, 1.0, 2.0);
  const auto smoothed =
      fettle::smooth(table, {.smooth = std::vector<double>{1.0, 1.0}, .standard_error = error, .most_errors = most});
  for (std::size_t k = 0; k < table.size(); ++k)
    RC_ASSERT(std::abs(smoothed.table.values()[k] - table.values()[k]) <= most * error[k] * (1 + 1e-12));
}

// Beside the best cells by another way: one cell at a time goes to its own best value within its bounds, until none moves.
TEST(SmoothRank1, OfCellsWithinBoundsIsTheBestThatTheBoundsAllow) {
  const std::vector<double> given{3, 5, 4, 9, 4, 5, 7, 6};
  const std::size_t n = given.size();
  const double strength = 2, cells = static_cast<double>(n - 1), error = 0.5, most = 2;
  const auto table = *dynamic_table<double>::from({*dynamic_axis<double>::from({0, 1, 2, 3, 4, 5, 6, 7})}, given);
  const auto smoothed = fettle::smooth(table, {.smooth = std::vector<double>{strength / (cells * cells * cells)},
                                               .standard_error = std::vector<double>(n, error),
                                               .most_errors = most});
  std::vector<double> best = given;
  for (int sweep = 0; sweep < 2000; ++sweep)
    for (std::size_t k = 0; k < n; ++k) {
      double slope = (best[k] - given[k]) / (error * error), curvature = 1 / (error * error);
      for (std::size_t i = k < 2 ? 0 : k - 2; i <= k && i + 2 < n; ++i) {
        const double factor = i + 1 == k ? -2 : 1;
        slope += strength * factor * (best[i] - 2 * best[i + 1] + best[i + 2]);
        curvature += strength * factor * factor;
      }
      best[k] = std::clamp(best[k] - slope / curvature, given[k] - most * error, given[k] + most * error);
    }
  std::size_t at_a_bound = 0;
  for (std::size_t k = 0; k < n; ++k) {
    EXPECT_NEAR(smoothed.table.values()[k], best[k], 1e-8) << k;
    at_a_bound += std::abs(best[k] - given[k]) == most * error;
  }
  EXPECT_GT(at_a_bound, 0U);
}

TEST(Smooth, BringsTheMapNearerToTheTruthByReml) {
  const auto table = noisy_map(),
             truth = sampled(12, 10, [](double x, double y) { return 5 + std::sin(x / 1500) + std::cos(y / 2000); });
  const auto smoothed = fettle::smooth(table, {.most_errors = endless});
  double before = 0, after = 0;
  for (std::size_t k = 0; k < table.size(); ++k) {
    before += std::pow(table.values()[k] - truth.values()[k], 2);
    after += std::pow(smoothed.table.values()[k] - truth.values()[k], 2);
  }
  EXPECT_LT(after, 0.5 * before);
  EXPECT_NEAR(smoothed.noise, 0.1, 0.03);
}

TEST(Smooth, MovesSelectedCellsOnlyAndTheOthersNotAtAll) {
  const auto table = noisy_map();
  const auto smoothed = fettle::smooth(table, {.cells = {34, 35, 44, 45}, .most_errors = endless});
  std::size_t moved = 0;
  for (std::size_t k = 0; k < table.size(); ++k) {
    if (k == 34 || k == 35 || k == 44 || k == 45)
      moved += smoothed.table.values()[k] != table.values()[k] ? 1U : 0U;
    else
      EXPECT_EQ(smoothed.table.values()[k], table.values()[k]) << k;
  }
  EXPECT_EQ(moved, 4U);
}

TEST(Smooth, HoldsACellThatIsKnownWell) {
  const auto table = noisy_map();
  std::vector<double> error(table.size(), 0.2);
  error[55] = 1e-4;
  const auto smoothed = fettle::smooth(table, {.standard_error = error, .most_errors = endless});
  EXPECT_NEAR(smoothed.table.values()[55], table.values()[55], 5e-4);
  EXPECT_GT(std::abs(smoothed.table.values()[57] - table.values()[57]), 5e-3);
}

TEST(Smooth, NamesACellItCannotUse) {
  const auto table = noisy_map();
  EXPECT_THROW((void)fettle::smooth(table, {.standard_error = std::vector<double>(table.size(), 0.0)}), fettle::error);
  EXPECT_THROW((void)fettle::smooth(table, {.cells = {1000}}), fettle::error);
  const auto refusal_with_hole_at = [](std::size_t cell) -> std::string {
    auto holed = noisy_map();
    holed.values()[cell] = nan;
    try {
      (void)fettle::smooth(holed);
    } catch (const fettle::error& refusal) {
      return refusal.what();
    }
    return "";
  };
  EXPECT_NE(refusal_with_hole_at(0).find("cell (0, 0)"), std::string::npos);
  EXPECT_NE(refusal_with_hole_at(11).find("cell (620, 620)"), std::string::npos);
  EXPECT_NE(refusal_with_hole_at(119).find("cell (5500, 4500)"), std::string::npos);
}

// Errors far above 1 make weights far below it.
TEST(Smooth, DoesNotDependOnTheUnitOfTheValues) {
  const auto table = noisy_map();
  auto large = table;
  for (double& value : large.values()) value *= 4096;
  const fettle::smooth_options fine{.standard_error = std::vector<double>(table.size(), 0.01)},
      coarse{.standard_error = std::vector<double>(table.size(), 40.96)};
  const auto small = fettle::smooth(table, fine), scaled = fettle::smooth(large, coarse);
  EXPECT_GT(small.noise, 5);                         // the errors stated are too small
  EXPECT_NEAR(scaled.noise / small.noise, 1, 1e-4);  // the search for the strengths stops within as much
  for (std::size_t k = 0; k < table.size(); ++k) {
    EXPECT_NEAR(scaled.table.values()[k] / 4096, small.table.values()[k], 1e-4);
    EXPECT_NEAR(scaled.standard_error[k] / 4096 / small.standard_error[k], 1, 1e-4);
  }
}

TEST(Smooth, LeavesAMapAloneOfWhichNothingIsKnown) {
  const auto table = noisy_map();
  const auto smoothed = fettle::smooth(table, {.standard_error = std::vector<double>(table.size(), endless)});
  EXPECT_EQ(smoothed.undetermined.size(), table.size());
  EXPECT_EQ(smoothed.table, table);
}

TEST(Fill, ContinuesAPlaneAndTrustsItLessFurtherOut) {
  auto table = sampled(8, 8, [](double x, double y) { return 1 + 1e-3 * x - 2e-3 * y; });
  const auto whole = table;
  int draw = 0;
  for (std::size_t k = 0; k < table.size(); ++k) {
    if (k % 8 >= 5)
      table.values()[k] = nan;
    else
      table.values()[k] += 1e-3 * std::sin(1.7 * draw * draw), ++draw;
  }
  const auto filled = fettle::fill(table);
  EXPECT_TRUE(filled.is_determined());
  for (std::size_t i = 0; i < 8; ++i) {
    for (std::size_t j = 0; j < 5; ++j) EXPECT_EQ(filled.table.values()[8 * i + j], table.values()[8 * i + j]);
    for (std::size_t j = 5; j < 8; ++j) {
      const std::size_t k = 8 * i + j;
      EXPECT_NEAR(filled.table.values()[k], whole.values()[k], 4 * filled.standard_error[k] + 1e-9);
      if (j > 5) {
        EXPECT_GT(filled.standard_error[k], filled.standard_error[k - 1]);
      }
    }
  }
}

TEST(Fill, ReproducesALineExactlyFromTwoCells) {
  const auto table = *dynamic_table<double>::from({axis_of(5)}, {nan, 2, nan, 3, nan});
  const auto x = axis_of(5).points();
  const auto filled = fettle::fill(table, {.smooth = std::vector<double>{1.0}});
  EXPECT_TRUE(filled.is_determined());
  for (const std::size_t k : {0U, 2U, 4U})
    EXPECT_NEAR(filled.table.values()[k], 2 + (x[k] - x[1]) / (x[3] - x[1]), 1e-8);
}

TEST(Fill, NamesTheHolesThatTooFewCellsLeaveOpen) {
  auto table = sampled(4, 4, [](double, double) { return nan; });
  const auto empty = fettle::fill(table);
  EXPECT_EQ(empty.undetermined.size(), 16U);
  for (const double value : empty.table.values()) EXPECT_EQ(value, 0);
  table.values()[5] = 7;
  const auto filled = fettle::fill(table);
  EXPECT_EQ(filled.undetermined.size(), 15U);
  for (std::size_t k = 0; k < 16; ++k) {
    EXPECT_EQ(filled.table.values()[k], 7);
    if (k != 5) {
      EXPECT_TRUE(std::isinf(filled.standard_error[k])) << k;
    }
  }
}

}  // namespace smooth_test

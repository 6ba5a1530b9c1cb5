// SPDX-License-Identifier: MIT
#include "fettle/fit/rebin.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <algorithm>
#include <limits>

#include "fettle/fit/best_breakpoints.hpp"
#include "fettle/map/interpolate.hpp"
#include "reference.hpp"

namespace rebin_test {

using fettle::dynamic_axis;
using fettle::dynamic_table;
using fettle::rebin_by;

dynamic_axis<double> drawn_axis(std::size_t most) {
  std::vector<double> x{static_cast<double>(*rc::gen::inRange(-5, 5))};
  const auto steps =
      *rc::gen::container<std::vector<int>>(*rc::gen::inRange<std::size_t>(1, most), rc::gen::inRange(1, 30));
  for (const int step : steps) x.push_back(x.back() + step);
  return *dynamic_axis<double>::from(x);
}

dynamic_table<double> drawn_map(std::size_t rank) {
  std::vector<dynamic_axis<double>> axes;
  std::size_t cells = 1;
  for (std::size_t a = 0; a < rank; ++a) cells *= axes.emplace_back(drawn_axis(5)).size();
  auto values = *rc::gen::container<std::vector<double>>(
      cells, rc::gen::map(rc::gen::inRange(-1000, 1000), [](int v) { return 0.1 * v; }));
  return *dynamic_table<double>::from(std::move(axes), std::move(values));
}

RC_GTEST_PROP(Rebin, ToAxesThatContainTheOldKeepsTheSurface, ()) {
  const auto table = drawn_map(*rc::gen::inRange<std::size_t>(1, 4));
  std::vector<dynamic_axis<double>> finer;
  for (const auto& axis : table.axes()) finer.push_back(fettle::detail::union_of(axis, drawn_axis(4)));
  for (const auto method : {rebin_by::linear, rebin_by::least_squares}) {
    const auto rebinned = fettle::rebin(table, finer, method);
    RC_ASSERT(rebinned.largest_error < 1e-10);
    RC_ASSERT(rebinned.rms_error < 1e-10);
    const auto back = fettle::rebin(rebinned.table, table.axes(), rebin_by::linear).table;
    for (std::size_t k = 0; k < table.size(); ++k) RC_ASSERT(std::abs(back.values()[k] - table.values()[k]) < 1e-10);
  }
}

RC_GTEST_PROP(Rebin, ReportsTheLargestErrorThatAnyPointShows, ()) {
  const auto table = drawn_map(2);
  const auto method =
      *rc::gen::element(rebin_by::linear, rebin_by::monotone, rebin_by::makima, rebin_by::least_squares);
  const auto rebinned = fettle::rebin(table, {drawn_axis(5), drawn_axis(5)}, method);
  const auto distance = [&](double x, double y) {
    return std::abs(fettle::interpolate(rebinned.table.view<2>(), x, y) - fettle::interpolate(table.view<2>(), x, y));
  };
  RC_ASSERT(std::abs(distance(rebinned.largest_at[0], rebinned.largest_at[1]) - rebinned.largest_error) < 1e-9);
  RC_ASSERT(rebinned.rms_error <= rebinned.largest_error * (1 + 1e-12) + 1e-12);
  for (int k = 0; k < 50; ++k)
    RC_ASSERT(distance(*rc::gen::inRange(-100, 1500) * 0.1, *rc::gen::inRange(-100, 1500) * 0.1) <=
              rebinned.largest_error + 1e-9);
}

// Worked out here: the straight line nearest in the mean square to the hat 0, 1, 0 on 0..2 is 1/2 everywhere; its mean
// square distance is that of a line from -1/2 to 1/2, 1/12.
TEST(RebinRank1, FindsTheNearestLineToAHat) {
  const auto hat = *dynamic_table<double>::from({*dynamic_axis<double>::from({0, 1, 2})}, {0, 1, 0});
  const auto rebinned = fettle::rebin(hat, {*dynamic_axis<double>::from({0, 2})});
  EXPECT_NEAR(rebinned.table.values()[0], 0.5, 1e-14);
  EXPECT_NEAR(rebinned.table.values()[1], 0.5, 1e-14);
  EXPECT_NEAR(rebinned.largest_error, 0.5, 1e-14);
  EXPECT_NEAR(rebinned.rms_error, std::sqrt(1.0 / 12), 1e-14);
}

RC_GTEST_PROP(RebinRank2, LeastSquaresIsNeverWorseInTheMeanSquareThanInterpolation, ()) {
  const auto table = drawn_map(2);
  std::vector<dynamic_axis<double>> coarser;
  for (const auto& axis : table.axes())
    coarser.push_back(*dynamic_axis<double>::from({axis.points().front(), axis.points().back()}));
  const double best = fettle::rebin(table, coarser).rms_error;
  RC_ASSERT(best <= fettle::rebin(table, coarser, rebin_by::linear).rms_error + 1e-9);
}

TEST(Rebin, RefusesAnotherRankAndCellsWithoutAValue) {
  const auto axis = *dynamic_axis<double>::from({0, 1});
  const auto table = *dynamic_table<double>::from({axis}, {0, std::numeric_limits<double>::quiet_NaN()});
  EXPECT_THROW((void)fettle::rebin(table, {axis}), fettle::error);
  EXPECT_THROW((void)fettle::rebin(*dynamic_table<double>::from({axis}, {0, 1}), {axis, axis}), fettle::error);
}

template <class Function>
dynamic_table<double> sampled_curve(std::size_t points, Function&& f) {
  std::vector<double> x, y;
  for (std::size_t i = 0; i < points; ++i) {
    x.push_back(static_cast<double>(i) / static_cast<double>(points - 1));
    y.push_back(f(x.back()));
  }
  return *dynamic_table<double>::from({*dynamic_axis<double>::from(x)}, y);
}

TEST(Rebin, RefusesAxesFurtherApartThanANumberCanSay) {
  const auto table = *dynamic_table<double>::from({*dynamic_axis<double>::from({-1e308, 0})}, {1, 2});
  EXPECT_THROW((void)fettle::rebin(table, {*dynamic_axis<double>::from({0, 1e308})}), fettle::error);
}

// Published: breakpoints of equal chord error of x^2, x^3 and exp(x) on 0..1 (tests/reference/
// breakpoints_analytic.csv). Here the breakpoints lie on a grid of width h, so a segment may be longer than the best
// one by h, and its error by the factor (1 + h/length)^2; and the error is looked at on the grid only, which misses at
// most h^2 f''/8 of it.
TEST(BestBreakpoints, ReachTheAnalyticOptimum) {
  const std::size_t points = 385;  // divisible by 2, 3, 4 and 8 segments, with a candidate half way
  const double h = 1.0 / (points - 1);
  for (const auto& row : reference::csv::read("breakpoints_analytic.csv").rows) {
    const std::string name = row.at("function");
    const auto table = sampled_curve(points, [&](double x) {
      return name == "exp" ? std::exp(x) : name == "cube" ? x * x * x : x * x;
    });
    const auto segments = static_cast<std::size_t>(reference::csv::number(row, "segments"));
    const auto best = fettle::best_breakpoints(table, 0, segments + 1);
    const double optimum = reference::csv::number(row, "max_error");
    const double length = 0.5 / static_cast<double>(segments);
    EXPECT_GT(best.error, optimum - 6 * h * h / 8) << name << segments;
    EXPECT_LT(best.error, optimum * (1 + h / length) * (1 + h / length)) << name << segments;
    if (name == "square") {
      EXPECT_NEAR(best.error, optimum, 1e-12) << segments;
    }
  }
}

/// The error of a choice of breakpoints, directly.
double error_of(const dynamic_table<double>& table, std::size_t axis, const std::vector<std::size_t>& index,
                fettle::breakpoint_error measure) {
  const auto& x = table.axes()[axis].points();
  std::vector<double> kept;
  for (const std::size_t k : index) kept.push_back(x[k]);
  auto axes = table.axes();
  axes[axis] = *dynamic_axis<double>::from(kept);
  const auto read =
      fettle::rebin(fettle::rebin(table, axes, rebin_by::linear).table, table.axes(), rebin_by::linear).table;
  double error = 0;
  for (std::size_t k = 0; k < table.size(); ++k) {
    const double miss = std::abs(read.values()[k] - table.values()[k]);
    error = measure == fettle::breakpoint_error::largest ? std::max(error, miss) : error + miss * miss;
  }
  return error;
}

RC_GTEST_PROP(BestBreakpoints, AreAsGoodAsTheBestOfAllChoices, ()) {
  const auto table = drawn_map(*rc::gen::inRange<std::size_t>(1, 3));
  const auto axis = *rc::gen::inRange<std::size_t>(0, table.rank());
  const auto measure = *rc::gen::element(fettle::breakpoint_error::largest, fettle::breakpoint_error::squares);
  const std::size_t points = table.axes()[axis].size();
  for (std::size_t count = 2; count <= points; ++count) {
    const auto best = fettle::best_breakpoints(table, axis, count, measure);
    RC_ASSERT(std::abs(error_of(table, axis, best.index, measure) - best.error) < 1e-8 * (1 + best.error));
    for (unsigned choice = 0; choice < (1U << points); ++choice) {
      std::vector<std::size_t> index;
      for (std::size_t k = 0; k < points; ++k)
        if ((choice >> k) % 2 == 1) index.push_back(k);
      if (index.size() != count || index.front() != 0 || index.back() != points - 1) continue;
      RC_ASSERT(error_of(table, axis, index, measure) > best.error - 1e-8 * (1 + best.error));
    }
  }
}

RC_GTEST_PROP(BestBreakpoints, AllOfThemAreWithoutError, ()) {
  const auto table = drawn_map(2);
  RC_ASSERT(fettle::best_breakpoints(table, 1, table.axes()[1].size(), fettle::breakpoint_error::squares).error == 0);
}

// Worked out here: a line through the ends and one more point misses the two others of the hump by 7/150 each; a fourth
// breakpoint on the hump leaves one point, missed by 7/80.
TEST(BestBreakpoints, OneMoreMayCostMoreThanOneFewer) {
  const auto table =
      *dynamic_table<double>::from({*dynamic_axis<double>::from({0, 7, 8, 15, 16})}, {0, 0, 0.1, 0.1, 0});
  const auto squares = fettle::breakpoint_error::squares;
  EXPECT_NEAR(fettle::best_breakpoints(table, 0, 3, squares).error, 2 * (7.0 / 150) * (7.0 / 150), 1e-15);
  EXPECT_NEAR(fettle::best_breakpoints(table, 0, 4, squares).error, (7.0 / 80) * (7.0 / 80), 1e-15);
}

TEST(BestBreakpoints, RefuseAnImpossibleNumber) {
  const auto table = sampled_curve(5, [](double x) { return x; });
  EXPECT_THROW((void)fettle::best_breakpoints(table, 0, 1), fettle::error);
  EXPECT_THROW((void)fettle::best_breakpoints(table, 0, 6), fettle::error);
  EXPECT_THROW((void)fettle::best_breakpoints(table, 1, 3), fettle::error);
}

}  // namespace rebin_test

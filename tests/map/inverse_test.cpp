// SPDX-License-Identifier: MIT
#include "fettle/map/inverse.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>
#include <utility>
#include <vector>

#include "draws.hpp"
#include "fettle/map/axis.hpp"
#include "fettle/map/table.hpp"

namespace inverse_test {

using interval = std::pair<double, double>;
constexpr fettle::axis<double, 6> x_axis{{0, 1, 2, 3, 5, 6}};
constexpr fettle::table curve{x_axis, {0, 10, 10, 0, 20, 10}};

std::vector<interval> solutions(double wanted) {
  std::vector<interval> intervals;
  const auto count = fettle::solve(curve.view(), wanted, [&](double from, double to) {
    intervals.push_back({from, to});
  });
  EXPECT_EQ(count, intervals.size());
  return intervals;
}

TEST(Inverse, FindsAllSolutionsInOrder) {
  EXPECT_EQ(solutions(5), (std::vector<interval>{{0.5, 0.5}, {2.5, 2.5}, {3.5, 3.5}}));
  EXPECT_EQ(solutions(15), (std::vector<interval>{{4.5, 4.5}, {5.5, 5.5}}));
}

TEST(Inverse, CountsABreakpointOnTheValueOnceAndAFlatAsOneInterval) {
  EXPECT_EQ(solutions(0), (std::vector<interval>{{0, 0}, {3, 3}}));
  EXPECT_EQ(solutions(20), (std::vector<interval>{{5, 5}}));
  EXPECT_EQ(solutions(10), (std::vector<interval>{{1, 2}, {4, 4}, {6, 6}}));
}

TEST(Inverse, HasNoSolutionWhereThereIsNone) {
  EXPECT_TRUE(solutions(20.001).empty());
  EXPECT_TRUE(solutions(-1e-300).empty());
  EXPECT_TRUE(solutions(std::nan("")).empty());
}

// In a constant expression, where no cell outside the curve can be read.
constexpr double sum_of_solutions(double wanted) {
  double sum = 0;
  fettle::solve(curve.view(), wanted, [&](double from, double to) { sum += from + to; });
  return sum;
}
static_assert(sum_of_solutions(10) == 1 + 2 + 2 * 4 + 2 * 6 && sum_of_solutions(0) == 2 * 3);

TEST(Inverse, OfAConstantIsTheWholeAxis) {
  constexpr fettle::axis<double, 3> axis{{-1, 0, 7}};
  constexpr fettle::table flat{axis, {2, 2, 2}};
  std::vector<interval> intervals;
  EXPECT_EQ(fettle::solve(flat.view(), 2.0, [&](double from, double to) { intervals.push_back({from, to}); }), 1U);
  EXPECT_EQ(intervals, (std::vector<interval>{{-1, 7}}));
}

TEST(Inverse, WorksAlongEitherAxisOfAMap) {
  constexpr fettle::axis<double, 2> a{{0, 1}};
  constexpr fettle::axis<double, 3> b{{0, 10, 20}};
  constexpr fettle::table map{a, b, {0, 10, 20, 100, 110, 120}};
  double along_b = 0, along_a = 0;
  const auto at = fettle::locate(map.view(), 0.5, 5.0);
  EXPECT_EQ(fettle::solve(map.view(), 1, at, 62.0, [&](double x, double) { along_b = x; }), 1U);
  EXPECT_EQ(along_b, 12);
  EXPECT_EQ(fettle::solve(map.view(), 0, at, 30.0, [&](double x, double) { along_a = x; }), 1U);
  EXPECT_EQ(along_a, 0.25);
}

// -9.5 + (6.8 - -9.5) is above 6.8 in double precision.
TEST(Inverse, StaysWithinTheAxisHoweverTheSumRounds) {
  constexpr fettle::axis<double, 2> x{{-9.5, 6.8}};
  constexpr fettle::table steep{x, {-1e20, 1.0}};  // 0 is at fraction 1, rounded
  static_assert(-9.5 + (6.8 - -9.5) > 6.8);
  double solution = 0;
  EXPECT_EQ(fettle::solve(steep.view(), 0.0, [&](double at, double) { solution = at; }), 1U);
  EXPECT_LE(solution, 6.8);
}

RC_GTEST_PROP(Inverse, ReadsBackTheWantedValueAndMissesNone, ()) {
  std::vector<double> points{0}, values;
  const auto size = *rc::gen::inRange<std::size_t>(2, 12);
  while (points.size() < size) points.push_back(points.back() + draws::real(0.5, 5.0));
  for (std::size_t i = 0; i < size; ++i) values.push_back(static_cast<double>(*rc::gen::inRange(-3, 4)));
  const auto table = *fettle::dynamic_table<double>::from({*fettle::dynamic_axis<double>::from(points)}, values);
  const double wanted = 0.5 * static_cast<double>(*rc::gen::inRange(-6, 7));
  std::size_t crossings = 0;  // intervals of the curve at the value, counted by hand
  for (std::size_t i = 0; i < size; ++i) {
    if (values[i] == wanted && (i == 0 || values[i - 1] != wanted)) ++crossings;
    if (i + 1 < size && (values[i] - wanted) * (values[i + 1] - wanted) < 0) ++crossings;
  }
  double last = -1;
  const auto count = fettle::solve(table.view<1>(), wanted, [&](double from, double to) {
    RC_ASSERT(from > last && to >= from);
    RC_ASSERT(std::abs(fettle::interpolate(table.view<1>(), from) - wanted) <= 1e-12);
    RC_ASSERT(std::abs(fettle::interpolate(table.view<1>(), 0.5 * (from + to)) - wanted) <= 1e-12);
    last = to;
  });
  RC_ASSERT(count == crossings);
}

}  // namespace inverse_test

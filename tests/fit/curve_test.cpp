// SPDX-License-Identifier: MIT
#include "fettle/fit/curve.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <limits>
#include <string>

#include "reference.hpp"

namespace curve_test {

using fettle::curve;
using fettle::curve_rule;
using fettle::dynamic_axis;

const std::vector<std::string> sets{"akima1", "akima2", "akima3_rpn15a", "rpn14"};

struct knots {
  dynamic_axis<double> axis;
  std::vector<double> value;
};
knots published(const std::string& set) {
  std::vector<double> x, y;
  for (const auto& row : reference::csv::read("interp_slopes.csv").rows) {
    if (row.at("set") != set) continue;
    x.push_back(reference::csv::number(row, "x"));
    y.push_back(reference::csv::number(row, "y"));
  }
  return {*dynamic_axis<double>::from(x), y};
}

// Published: knots of Akima (1970) and Fritsch & Carlson (1980); values at quarter points by scipy PchipInterpolator
// (tests/reference/interp_values.csv), ends included. Tolerance 1e-10 relative to the range.
TEST(Curve, MatchesScipyPchipWithItsEnds) {
  const auto expected = reference::csv::read("interp_values.csv");
  for (const auto& set : sets) {
    const auto [axis, value] = published(set);
    const curve through(axis, value, curve_rule::monotone);
    for (const auto& row : expected.rows) {
      if (row.at("set") != set) continue;
      const double x = reference::csv::number(row, "x");
      EXPECT_NEAR(through(x), reference::csv::number(row, "pchip"), 1e-10 * value.back()) << set << ' ' << x;
      EXPECT_NEAR(curve(axis, value, curve_rule::linear)(x), reference::csv::number(row, "linear"),
                  1e-10 * value.back())
          << set << ' ' << x;
    }
  }
}

// The definition, worked out here: slope = (w1 m2 + w2 m1) / (w1 + w2), w1 = |m3 - m2| + |m3 + m2| / 2 and w2 the like
// on the other side; half way between knots a cubic lies h (s0 - s1) / 8 above the chord.
TEST(Curve, MakimaHasTheModifiedAkimaSlopes) {
  for (const auto& set : sets) {
    const auto [axis, y] = published(set);
    const auto& x = axis.points();
    const curve through(axis, y, curve_rule::makima);
    const auto slope = [&](std::size_t i) {
      double m[4];
      for (std::size_t k = 0; k < 4; ++k) m[k] = (y[i + k - 1] - y[i + k - 2]) / (x[i + k - 1] - x[i + k - 2]);
      const double ahead = std::abs(m[3] - m[2]) + std::abs(m[3] + m[2]) / 2;
      const double behind = std::abs(m[1] - m[0]) + std::abs(m[1] + m[0]) / 2;
      return ahead + behind == 0 ? 0 : (ahead * m[1] + behind * m[2]) / (ahead + behind);
    };
    for (std::size_t i = 2; i + 3 < x.size(); ++i) {
      const double h = x[i + 1] - x[i];
      EXPECT_NEAR(through(x[i] + h / 2), (y[i] + y[i + 1]) / 2 + h * (slope(i) - slope(i + 1)) / 8, 1e-12 * y.back())
          << set << ' ' << i;
    }
  }
}

// F. N. Fritsch, J. Butland (1984) and the documentation of scipy.interpolate.PchipInterpolator: the parabola through three
// points at an end, made 0 where it turns the curve round, and cut to three times the straight slope beyond a summit. The
// published knots have their first end flat, so these are worked out by hand, on knots apart by 1, 2, 1 and by 1, 1, 1.
TEST(Curve, MonotoneHasTheSlopeOfTheParabolaAtBothEndsAsFarAsItKeepsTheShape) {
  struct {
    std::vector<double> x, y;
    double slope;
  } cases[] = {{{1, 2, 4, 5}, {1, 4, 16, 25}, 2},     // of y = x^2, at 1
               {{0, 1, 2, 3}, {0, 1, -9, -9}, 3},     // of the parabola: 6.5
               {{0, 1, 2, 3}, {0, 1, 0.5, 0}, 1.75},  // of the parabola, not cut beyond the summit
               {{0, 1, 2, 3}, {0, 1, 11, 12}, 0}};    // of the parabola: -3.5
  constexpr double h = 1e-7;                          // second derivatives stay below 100
  for (const auto& [x, y, slope] : cases) {
    const curve through(*dynamic_axis<double>::from(x), y, curve_rule::monotone);
    EXPECT_NEAR((through(x[0] + h) - y[0]) / h, slope, 100 * h) << slope;
    std::vector<double> turned_x, turned_y(y.rbegin(), y.rend());
    for (auto at = x.rbegin(); at != x.rend(); ++at) turned_x.push_back(-*at);
    const curve turned(*dynamic_axis<double>::from(turned_x), turned_y, curve_rule::monotone);
    EXPECT_NEAR((y[0] - turned(-x[0] - h)) / h, -slope, 100 * h) << slope;
  }
}

knots drawn() {
  const auto steps =
      *rc::gen::container<std::vector<int>>(*rc::gen::inRange<std::size_t>(2, 9), rc::gen::inRange(1, 20));
  std::vector<double> x{0}, y{0};
  for (const int step : steps) {
    x.push_back(x.back() + step);
    y.push_back(*rc::gen::inRange(-100, 100));
  }
  return {*dynamic_axis<double>::from(x), y};
}

RC_GTEST_PROP(Curve, PassesThroughItsBreakpointsAndHoldsItsEnds, ()) {
  const auto [axis, value] = drawn();
  for (const auto rule : {curve_rule::linear, curve_rule::monotone, curve_rule::makima}) {
    const curve through(axis, value, rule);
    for (std::size_t i = 0; i < value.size(); ++i) RC_ASSERT(through(axis.points()[i]) == value[i]);
    RC_ASSERT(through(-1e300) == value.front());
    RC_ASSERT(through(std::numeric_limits<double>::infinity()) == value.back());
    RC_ASSERT(std::isnan(through(std::numeric_limits<double>::quiet_NaN())));
  }
}

RC_GTEST_PROP(Curve, MonotoneStaysBetweenNeighbours, ()) {
  const auto [axis, value] = drawn();
  const curve through(axis, value, curve_rule::monotone);
  for (std::size_t i = 0; i + 1 < value.size(); ++i) {
    double last = value[i];
    for (int k = 1; k <= 32; ++k) {
      const double now = through(axis.points()[i] + (axis.points()[i + 1] - axis.points()[i]) * k / 32);
      if (value[i + 1] >= value[i])
        RC_ASSERT(now >= last - 1e-9);
      else
        RC_ASSERT(now <= last + 1e-9);
      last = now;
    }
  }
}

TEST(Curve, RefusesValuesThatAreNotFiniteOrTooFew) {
  const auto axis = *dynamic_axis<double>::from({0, 1, 2, 3});
  EXPECT_THROW(curve(axis, std::vector<double>{1, 2, 3}, curve_rule::makima), fettle::error);
  EXPECT_THROW(curve(axis, std::vector<double>{1, 2, std::numeric_limits<double>::infinity(), 3}, curve_rule::makima),
               fettle::error);
}

}  // namespace curve_test

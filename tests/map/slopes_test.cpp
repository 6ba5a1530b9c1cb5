// SPDX-License-Identifier: MIT
#include "fettle/map/slopes.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "draws.hpp"
#include "fettle/map/axis.hpp"
#include "fettle/map/table.hpp"

namespace slopes_test {

constexpr fettle::axis<double, 3> x_axis{{0, 1, 3}};
constexpr fettle::axis<double, 2> y_axis{{0, 10}};
constexpr fettle::table map{x_axis, y_axis, {0, 10, 1, 31, 3, 53}};

static_assert(fettle::interpolate_with_slopes(map.view(), 0.5, 5).value == 10.5);
static_assert(fettle::interpolate_with_slopes(map.view(), 0.5, 5).slope[0] == 11);
static_assert(fettle::interpolate_with_slopes(map.view(), 0.5, 5).slope[1] == 2);
static_assert(fettle::interpolate_with_slopes(map.view(), -1, 5).slope[0] == 0);
static_assert(fettle::interpolate_with_slopes(map.view(), 1, 0).slope[0] == 1);

TEST(Slopes, ComeWithAValueThatIgnoresCornersOfNoWeight) {
  const fettle::table holed{x_axis, {1.0, std::numeric_limits<double>::quiet_NaN(), 3.0}};
  EXPECT_EQ(fettle::interpolate_with_slopes(holed.view(), 0).value, 1);
  EXPECT_EQ(fettle::interpolate_with_slopes(holed.view(), 3).value, 3);
}

TEST(Slopes, AtTheLastBreakpointAreThoseOfTheCellBelow) {
  const auto at_end = fettle::interpolate_with_slopes(map.view(), 3.0, 10.0);
  EXPECT_EQ(at_end.value, 53);
  EXPECT_EQ(at_end.slope[0], 11);
  EXPECT_EQ(at_end.slope[1], 5);
}

// Along any axis a map is a straight line within a cell: the difference quotient is the slope, for any step inside it.
RC_GTEST_PROP(Slopes, AreTheDifferenceQuotientsWithinTheCell, ()) {
  std::vector<fettle::dynamic_axis<double>> axes;
  std::array<double, 3> x{}, width{};
  std::array<std::size_t, 3> cell{};
  std::size_t count = 1;
  for (std::size_t i = 0; i < 3; ++i) {
    std::vector<double> points{draws::real(-10.0, 10.0)};
    while (points.size() < 4) points.push_back(points.back() + draws::real(0.5, 5.0));
    axes.push_back(*fettle::dynamic_axis<double>::from(points));
    cell[i] = *rc::gen::inRange<std::size_t>(0, 3);
    width[i] = points[cell[i] + 1] - points[cell[i]];
    x[i] = points[cell[i]] + draws::real(0.1, 0.5) * width[i];
    count *= 4;
  }
  std::vector<double> values(count);
  for (double& v : values) v = draws::real(-100.0, 100.0);
  const auto table = *fettle::dynamic_table<double>::from(axes, values);
  const auto view = table.view<3>();
  const auto here = fettle::interpolate_with_slopes(view, x[0], x[1], x[2]);
  const double value = fettle::interpolate(view, x[0], x[1], x[2]);
  RC_ASSERT(std::abs(here.value - value) <= 1e-12 * 100);
  for (std::size_t i = 0; i < 3; ++i) {
    auto there = x;
    there[i] += 0.4 * width[i];
    const double quotient = (fettle::interpolate(view, there[0], there[1], there[2]) - value) / (0.4 * width[i]);
    RC_ASSERT(std::abs(here.slope[i] - quotient) <= 1e-10 * 100);
  }
}

// On breakpoints of some axes: what the corners of no weight hold does not count, for the value as in `interpolate`.
RC_GTEST_PROP(Slopes, ComeWithTheValueThatInterpolateGivesWhateverCornersOfNoWeightHold, ()) {
  const auto drawn = draws::table<double, 2>();
  auto table = drawn;
  const auto view = table.view<2>();
  std::array<std::size_t, 2> node{};
  std::array<double, 2> x{};
  for (std::size_t i = 0; i < 2; ++i) {
    node[i] = *rc::gen::inRange<std::size_t>(0, view.axes[i].size);
    x[i] = view.axes[i].points[node[i]];
  }
  const bool on_both = *rc::gen::arbitrary<bool>();
  if (!on_both) x[1] = draws::coordinate(table.axes()[1]);
  for (std::size_t cell = 0; cell < table.values().size(); ++cell) {
    const std::size_t row = cell / view.axes[1].size, column = cell % view.axes[1].size;
    if (row != node[0] || (on_both && column != node[1])) table.values()[cell] = std::nan("");
  }
  const double value = fettle::interpolate(view, x[0], x[1]);
  RC_ASSERT(!std::isnan(value));
  double largest = 0;
  for (const double v : drawn.values()) largest = std::max(largest, std::abs(v));
  RC_ASSERT(std::abs(fettle::interpolate_with_slopes(view, x[0], x[1]).value - value) <= 1e-12 * largest);
}

TEST(Slopes, GiveANaNValueForNaN) {
  EXPECT_TRUE(std::isnan(fettle::interpolate_with_slopes(map.view(), std::nan(""), 5.0).value));
}

}  // namespace slopes_test

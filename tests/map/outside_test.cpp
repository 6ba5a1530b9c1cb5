// SPDX-License-Identifier: MIT
#include "fettle/map/outside.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>
#include <limits>

#include "draws.hpp"
#include "fettle/map/axis.hpp"
#include "fettle/map/table.hpp"

namespace outside_test {

using fettle::edges;
using fettle::outside;
using fettle::position;
constexpr double nan = std::numeric_limits<double>::quiet_NaN(), inf = std::numeric_limits<double>::infinity();

constexpr fettle::axis<double, 3> x_axis{{0, 1, 3}};
constexpr fettle::axis<double, 2> y_axis{{0, 10}};
constexpr fettle::table curve{x_axis, {10, 20, 60}};
constexpr fettle::table map{x_axis, y_axis, {0, 10, 1, 11, 3, 13}};  // x + y
constexpr edges hold{}, extend{outside::extend, outside::extend}, refuse{outside::refuse, outside::refuse};

static_assert(fettle::read(curve.view(), {extend}, -1).value == 0);
static_assert(fettle::read(curve.view(), {extend}, 4).value == 80);
static_assert(fettle::read(curve.view(), {hold}, 4).value == 60);
static_assert(fettle::read(curve.view(), {edges{outside::hold, outside::extend}}, -1).value == 10);

TEST(Outside, ContinuesTheEndCellsInAStraightLine) {
  EXPECT_EQ(fettle::read(map.view(), {extend, extend}, 5.0, -20.0).value, -15);
  EXPECT_EQ(fettle::read(map.view(), {extend, hold}, 5.0, -20.0).value, 5);
  EXPECT_EQ(fettle::read(map.view(), {hold, extend}, 5.0, 25.0).value, 28);
}

TEST(Outside, RefusesWithNaNAndSaysWhere) {
  const auto above = fettle::read(map.view(), {refuse, hold}, 3.5, 99.0);
  EXPECT_TRUE(std::isnan(above.value));
  EXPECT_EQ(above.where[0], position::above);
  EXPECT_EQ(above.where[1], position::above);
  EXPECT_FALSE(above.inside());
  EXPECT_TRUE(std::isnan(fettle::read(map.view(), {refuse, hold}, -1e-9, 5.0).value));
  EXPECT_FALSE(std::isnan(fettle::read(map.view(), {refuse, refuse}, 3.0, 10.0).value)) << "the ends belong to the map";
  EXPECT_TRUE(fettle::read(map.view(), {refuse, refuse}, 3.0, 10.0).inside());
}

TEST(Outside, HoldsTheEndForInfinitiesUnlessRefused) {
  EXPECT_EQ(fettle::read(curve.view(), {extend}, inf).value, 60);
  EXPECT_EQ(fettle::read(curve.view(), {extend}, -inf).value, 10);
  EXPECT_TRUE(std::isnan(fettle::read(curve.view(), {refuse}, inf).value));
  EXPECT_EQ(fettle::read(curve.view(), {hold}, inf).where[0], position::above);
}

TEST(Outside, ContinuesAConstantMapAsTheConstantHoweverFar) {
  constexpr double most = std::numeric_limits<double>::max();
  constexpr fettle::axis<double, 2> far{{-most / 2, -most / 4}}, narrow{{0, std::numeric_limits<double>::denorm_min()}};
  EXPECT_EQ(fettle::read(fettle::table{far, {7, 7}}.view(), {extend}, most).value, 7);
  EXPECT_EQ(fettle::read(fettle::table{narrow, {7, 7}}.view(), {extend}, -most).value, 7);
  EXPECT_EQ(fettle::read(fettle::table{narrow, {7, 7}}.view(), {extend}, most).value, 7);
}

TEST(Outside, TellsNaNFromOutside) {
  const auto read = fettle::read(map.view(), {hold, hold}, nan, 5.0);
  EXPECT_TRUE(std::isnan(read.value));
  EXPECT_EQ(read.where[0], position::not_a_number);
  EXPECT_EQ(read.where[1], position::inside);
}

RC_GTEST_PROP(Outside, WithHoldReadsLikeAnyLookUp, ()) {
  const auto table = draws::table<double, 2>();
  const auto view = table.view<2>();
  const double x = draws::coordinate(table.axes()[0]), y = draws::coordinate(table.axes()[1]);
  RC_ASSERT(fettle::read(view, {hold, hold}, x, y).value == fettle::interpolate(view, x, y));
}

}  // namespace outside_test

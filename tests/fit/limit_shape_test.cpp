// SPDX-License-Identifier: MIT
#include "fettle/fit/limit_shape.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include "reference.hpp"

namespace limit_shape_test {

using fettle::dynamic_axis;
using fettle::dynamic_table;
using fettle::shape;
using fettle::shape_limit;

dynamic_axis<double> axis_of(std::size_t points) {
  std::vector<double> x;
  for (std::size_t i = 0; i < points; ++i) x.push_back(static_cast<double>(i) + (i % 3 == 1 ? 0.25 : 0.0));
  return *dynamic_axis<double>::from(x);
}

dynamic_table<double> drawn_map(std::size_t rows, std::size_t columns) {
  auto values = *rc::gen::container<std::vector<double>>(
      rows * columns, rc::gen::map(rc::gen::inRange(-1000, 1000), [](int v) { return 0.01 * v; }));
  return *dynamic_table<double>::from({axis_of(rows), axis_of(columns)}, std::move(values));
}

shape_limit drawn_limit() {
  const auto keep = *rc::gen::element(shape::non_decreasing, shape::non_increasing, shape::convex, shape::concave,
                                      shape::slope_at_most);
  return {.keep = keep, .axis = *rc::gen::inRange<std::size_t>(0, 2), .slope = 1.5};
}

/// The least by which the map keeps to a limit.
double margin(const dynamic_table<double>& table, const shape_limit& wanted) {
  double least = std::numeric_limits<double>::infinity();
  for (const auto& limit : fettle::detail::limits_on(table.axes(), std::span(&wanted, 1))) {
    double value = -limit.least;
    for (std::size_t a = 0; a < 3; ++a) value += limit.factor[a] * table.values()[limit.cell[a]];
    least = std::min(least, value);
  }
  return least;
}

// Published: R stats::isoreg (pool adjacent violators), the worked vector of its help page and cars
// (tests/reference/isotonic.csv, 15 digits). Tolerance 1e-12 relative.
TEST(LimitShapeRank1, MatchesPoolAdjacentViolators) {
  const auto data = reference::csv::read("isotonic.csv");
  for (const std::string set : {"doc", "cars"}) {
    std::vector<double> x, y, expected;
    for (const auto& row : data.rows) {
      if (row.at("set") != set) continue;
      x.push_back(reference::csv::number(row, "i"));
      y.push_back(reference::csv::number(row, "y"));
      expected.push_back(reference::csv::number(row, "fit"));
    }
    const auto table = *dynamic_table<double>::from({*dynamic_axis<double>::from(x)}, y);
    const shape_limit up{.keep = shape::non_decreasing};
    const auto limited = fettle::limit_shape(table, std::span(&up, 1));
    for (std::size_t i = 0; i < x.size(); ++i)
      EXPECT_NEAR(limited.values()[i], expected[i], 1e-12 * expected.back()) << set << i;
  }
}

RC_GTEST_PROP(LimitShapeRank2, KeepsToItsLimitsAndIsIdempotent, ()) {
  const auto table = drawn_map(*rc::gen::inRange<std::size_t>(2, 7), *rc::gen::inRange<std::size_t>(3, 7));
  const std::vector<shape_limit> wanted{drawn_limit(), {.keep = shape::non_decreasing, .axis = 1}};
  // A slope at most 1.5 and a value that never falls can be met together; so can every other pair drawn here.
  const auto once = fettle::limit_shape(table, wanted);
  for (const auto& limit : wanted) RC_ASSERT(margin(once, limit) > -1e-9);
  RC_ASSERT(fettle::limit_shape(once, wanted) == once);
}

// The nearest point of a convex set: the way from it to the given map makes no acute angle with any way into the set.
RC_GTEST_PROP(LimitShapeRank2, IsNearerThanAnyOtherMapThatKeepsToTheLimits, ()) {
  const auto table = drawn_map(4, 5), other = drawn_map(4, 5);
  const std::vector<shape_limit> wanted{drawn_limit()};
  const auto nearest = fettle::limit_shape(table, wanted), another = fettle::limit_shape(other, wanted);
  double angle = 0;
  for (std::size_t k = 0; k < table.size(); ++k)
    angle += (table.values()[k] - nearest.values()[k]) * (another.values()[k] - nearest.values()[k]);
  RC_ASSERT(angle < 1e-6);
}

TEST(LimitShape, LeavesAMapThatKeepsToTheLimitsAloneToTheBit) {
  const auto table = *dynamic_table<double>::from({axis_of(3), axis_of(2)}, {1, 1.1, 2, 2.3, 3, 3.7});
  const std::vector<shape_limit> wanted{{.keep = shape::non_decreasing, .axis = 0},
                                        {.keep = shape::slope_at_most, .axis = 1, .slope = 1}};
  EXPECT_EQ(fettle::limit_shape(table, wanted), table);
}

// What it gives can be inverted: rounding leaves no cell a digit below the one before, nor does it let one stand.
RC_GTEST_PROP(LimitShapeRank2, KeepsOrderExactly, ()) {
  const std::vector<shape_limit> wanted{{.keep = shape::non_decreasing, .axis = 0},
                                        {.keep = shape::non_increasing, .axis = 1}};
  const auto limited = fettle::limit_shape(drawn_map(4, 5), wanted);
  for (const auto& limit : wanted) RC_ASSERT(margin(limited, limit) >= 0);
}

// Two cells out of order meet half way, however small or large the unit makes them.
TEST(LimitShape, DoesNotDependOnTheUnitOfTheValues) {
  const shape_limit up{.keep = shape::non_decreasing};
  for (const double unit : {1e-9, 1e9}) {
    const auto table = *dynamic_table<double>::from({axis_of(3)}, {2 * unit, 1 * unit, 5 * unit});
    const auto limited = fettle::limit_shape(table, std::span(&up, 1));
    const double expected[] = {1.5, 1.5, 5};
    for (std::size_t i = 0; i < 3; ++i) EXPECT_NEAR(limited.values()[i] / unit, expected[i], 1e-11) << unit;
  }
}

TEST(LimitShape, RaisesACellThatOnlyRoundingPutBelow) {
  const auto table = *dynamic_table<double>::from({axis_of(3)}, {1, 1 - 1e-15, 2});
  const shape_limit up{.keep = shape::non_decreasing};
  EXPECT_EQ(fettle::limit_shape(table, std::span(&up, 1)).values()[1], 1);
}

TEST(LimitShape, MovesTheCellThatIsKnownWorse) {
  const auto table = *dynamic_table<double>::from({axis_of(2)}, {2, 1});
  const shape_limit up{.keep = shape::non_decreasing};
  const double error[] = {1, 3};
  const auto limited = fettle::limit_shape(table, std::span(&up, 1), error);
  EXPECT_NEAR(limited.values()[0], 1.9, 1e-12);  // weighted mean of 2 and 1 with weights 9 : 1
  EXPECT_NEAR(limited.values()[1], 1.9, 1e-12);
}

TEST(LimitShape, MovesCellsAlikeWhereNoneIsKnown) {
  constexpr double infinite = std::numeric_limits<double>::infinity();
  const auto table = *dynamic_table<double>::from({axis_of(2)}, {2, 1});
  const shape_limit up{.keep = shape::non_decreasing};
  const double error[] = {infinite, infinite};
  const auto limited = fettle::limit_shape(table, std::span(&up, 1), error);
  for (const double value : limited.values()) EXPECT_NEAR(value, 1.5, 1e-12);
}

TEST(LimitShape, RefusesARangeThatIsNotOnTheAxis) {
  const auto table = *dynamic_table<double>::from({axis_of(3), axis_of(2)}, {6, 5, 4, 3, 2, 1});
  const auto refusal = [&](fettle::cell_range range) -> std::string {
    const shape_limit up{.keep = shape::non_decreasing, .within = {{}, range}};
    try {
      (void)fettle::limit_shape(table, std::span(&up, 1));
    } catch (const fettle::error& refused) {
      return refused.what();
    }
    return "";
  };
  const std::string expected = " of axis 1, expected two of 0 to 1, the lower first";
  EXPECT_EQ(refusal({.first = 0, .last = 2}), "limit_shape: limit 0 is for breakpoints 0 to 2" + expected);
  EXPECT_EQ(refusal({.first = 1, .last = 0}), "limit_shape: limit 0 is for breakpoints 1 to 0" + expected);
  EXPECT_EQ(refusal({.first = 2}), "limit_shape: limit 0 is for breakpoints 2 to 1" + expected);
  EXPECT_EQ(refusal({.first = 1}), "");
}

TEST(LimitShape, KeepsToACellRangeOnly) {
  const auto table = *dynamic_table<double>::from({axis_of(5)}, {3, 2, 5, 4, 1});
  const shape_limit up{.keep = shape::non_decreasing, .within = {{.first = 0, .last = 2}}};
  const auto limited = fettle::limit_shape(table, std::span(&up, 1));
  const double expected[] = {2.5, 2.5, 5, 4, 1};
  for (std::size_t i = 0; i < 5; ++i) EXPECT_NEAR(limited.values()[i], expected[i], 1e-12);
}

TEST(LimitShape, NamesACellWhenLimitsContradictEachOther) {
  const auto table = *dynamic_table<double>::from({axis_of(4)}, {0, 1, 2, 3});
  const std::vector<shape_limit> wanted{{.keep = shape::slope_at_least, .slope = 2},
                                        {.keep = shape::slope_at_most, .slope = 1}};
  try {
    (void)fettle::limit_shape(table, wanted);
    FAIL();
  } catch (const fettle::error& refusal) {
    EXPECT_NE(std::string(refusal.what()).find("contradict each other near cell ("), std::string::npos);
  }
}

TEST(LimitShape, RefusesCellsWithoutAValue) {
  const auto table = *dynamic_table<double>::from({axis_of(2)}, {0, std::numeric_limits<double>::quiet_NaN()});
  const shape_limit up{.keep = shape::non_decreasing};
  EXPECT_THROW((void)fettle::limit_shape(table, std::span(&up, 1)), fettle::error);
  const shape_limit nowhere{.keep = shape::convex, .axis = 1};
  EXPECT_THROW((void)fettle::limit_shape(table, std::span(&nowhere, 1)), fettle::error);
}

}  // namespace limit_shape_test

// SPDX-License-Identifier: MIT
#include "fettle/fit/invert_table.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>
#include <vector>

namespace invert_table_test {

using axis = fettle::dynamic_axis<double>;
using table = fettle::dynamic_table<double>;
using fettle::demand_status;

double between(double low, double high) {
  return low + (high - low) * *rc::gen::resize(rc::kNominalSize, rc::gen::inRange(0, 1 << 20)) / (1 << 20);
}

axis drawn_axis(std::size_t size) {
  std::vector<double> points{between(-10, 10)};
  while (points.size() < size) points.push_back(points.back() + between(0.1, 10));
  return *axis::from(points);
}

/// A map that rises along one axis by steps of at least `least`.
table drawn_rising(std::size_t rank, std::size_t along, double least) {
  std::vector<axis> axes;
  std::size_t size = 1, stride = 1;
  for (std::size_t a = 0; a < rank; ++a) {
    axes.push_back(drawn_axis(*rc::gen::inRange<std::size_t>(2, 6)));
    size *= axes.back().size();
  }
  for (std::size_t a = along + 1; a < rank; ++a) stride *= axes[a].size();
  std::vector<double> values(size);
  for (std::size_t i = 0; i < size; ++i) {
    const bool is_first = i / stride % axes[along].size() == 0;
    values[i] = is_first ? between(-50, 50) : values[i - stride] + least + between(0, 30);
  }
  return *table::from(axes, values);
}

template <std::size_t R>
void gives_reachable_demands_back() {
  const std::size_t along = *rc::gen::inRange<std::size_t>(0, R);
  const table map = drawn_rising(R, along, 0);
  const auto demands = fettle::even_demands(map, 9);
  const auto inverse = fettle::invert_table(map, demands, {.along = along});
  RC_ASSERT(inverse.node_error <= 1e-9);
  // Again, through the public look-up of the whole map.
  std::size_t stride = 1;
  for (std::size_t a = along + 1; a < R; ++a) stride *= map.axes()[a].size();
  for (std::size_t cell = 0; cell < inverse.table.size(); ++cell) {
    std::array<fettle::place<double>, R> at{};
    std::size_t rest = cell;
    for (std::size_t a = R; a-- > 0;) {
      const auto& points = inverse.table.axes()[a].points();
      const double x = a == along ? inverse.table.values()[cell] : points[rest % points.size()];
      at[a] = fettle::locate(map.axes()[a].view(), x);
      rest /= points.size();
    }
    const double demand = demands.points()[cell / stride % demands.size()];
    const double back = fettle::interpolate(map.view<R>(), at);
    const auto status = inverse.status[cell];
    if (status == demand_status::too_high) {
      RC_ASSERT(back < demand);
    } else if (status == demand_status::too_low) {
      RC_ASSERT(back > demand);
    } else {
      RC_ASSERT(std::abs(back - demand) <= 1e-9);
    }
  }
}

RC_GTEST_PROP(InvertTable, GivesReachableDemandsBackOnCurves, ()) {
  gives_reachable_demands_back<1>();
}
RC_GTEST_PROP(InvertTable, GivesReachableDemandsBackOnMaps, ()) {
  gives_reachable_demands_back<2>();
}
RC_GTEST_PROP(InvertTable, GivesReachableDemandsBackOnCuboids, ()) {
  gives_reachable_demands_back<3>();
}

// With the curve's own values as demands nothing is lost, and the inverse of the inverse is the curve.
RC_GTEST_PROP(InvertTable, TwiceIsTheCurveItself, ()) {
  const table curve = drawn_rising(1, 0, 0.01);
  const auto demands = *axis::from({curve.values().begin(), curve.values().end()});
  const auto once = fettle::invert_table(curve, demands, {});
  const auto twice = fettle::invert_table(once.table, curve.axes()[0], {});
  RC_ASSERT(once.between_error <= 1e-9);
  for (std::size_t k = 0; k < curve.size(); ++k)
    RC_ASSERT(std::abs(twice.table.values()[k] - curve.values()[k]) <= 1e-9);
}

const table flat =
    *table::from({*axis::from({1, 2}), *axis::from({0, 10, 20, 30, 40})}, {0, 50, 50, 80, 80, 0, 20, 50, 60, 60});

TEST(InvertTable, ChoosesWithinFlatStretches) {
  const auto demands = *axis::from({50, 80});
  const auto inverted = [&](fettle::flat_choice choice) {
    const auto made = fettle::invert_table(flat, demands, {.along = 1, .flat = choice});
    return std::vector<double>(made.table.values().begin(), made.table.values().end());
  };
  EXPECT_EQ(inverted(fettle::flat_choice::smallest), (std::vector<double>{10, 30, 20, 30}));
  EXPECT_EQ(inverted(fettle::flat_choice::largest), (std::vector<double>{20, 40, 20, 40}));
  const table other_way = *table::from(flat.axes(), {0, 20, 50, 60, 60, 0, 50, 50, 80, 80});
  const auto near =
      fettle::invert_table(other_way, demands, {.along = 1, .flat = fettle::flat_choice::nearest_to_last});
  EXPECT_EQ(near.table.values()[2], 20);  // 10 to 20 would do; the line before has 20
}

TEST(InvertTable, NamesDemandsThatAreFlatOrOutOfReach) {
  const auto made = fettle::invert_table(flat, *axis::from({-10, 50, 70}), {.along = 1});
  EXPECT_EQ(made.status,
            (std::vector<demand_status>{demand_status::too_low, demand_status::not_unique, demand_status::unique,
                                        demand_status::too_low, demand_status::unique, demand_status::too_high}));
  EXPECT_EQ(made.count(demand_status::too_low), 2U);
  EXPECT_EQ(made.table.values()[5], 30);  // where the most is reached first
}

TEST(InvertTable, InvertsFallingLines) {
  const table falling = *table::from({*axis::from({0, 1, 3})}, {10, 6, 2});
  const auto made = fettle::invert_table(falling, *axis::from({2, 4, 8}), {});
  EXPECT_EQ(std::vector<double>(made.table.values().begin(), made.table.values().end()),
            (std::vector<double>{3, 2, 0.5}));
}

// Torque a sqrt of the throttle: between demands of a coarse grid the inverse is a chord of a parabola.
TEST(InvertTable, SaysWhatTheGridCosts) {
  std::vector<double> points, values;
  for (int i = 0; i <= 100; ++i) {
    points.push_back(i);
    values.push_back(10 * std::sqrt(i));
  }
  const table curve = *table::from({*axis::from(points)}, values);
  const auto coarse = fettle::invert_table(curve, *axis::from({0, 50, 100}), {});
  EXPECT_NEAR(coarse.between_error, 10 * std::sqrt(12.5) - 25, 0.02);  // at x = 25/2
  EXPECT_LE(coarse.node_error, 1e-12);
}

std::string refusal(const table& map, std::size_t along) {
  try {
    static_cast<void>(fettle::invert_table(map, *axis::from({0, 1}), {.along = along}));
  } catch (const fettle::error& problem) {
    return problem.what();
  }
  return "";
}

TEST(InvertTable, NamesTheCellWhereALineTurns) {
  const table turning = *table::from({*axis::from({1000, 2000}), *axis::from({0, 50, 99.5})}, {0, 5, 9, 0, 5, 4});
  EXPECT_NE(refusal(turning, 1).find("turns at cell (2000, 99.5)"), std::string::npos) << refusal(turning, 1);
  const table hole = *table::from(turning.axes(), {0, 5, 9, 0, std::nan(""), 4});
  EXPECT_NE(refusal(hole, 1).find("cell (2000, 50) holds nan, expected finite"), std::string::npos) << refusal(hole, 1);
  EXPECT_NE(refusal(turning, 2).find("axis 2 of a map of rank 2"), std::string::npos);
  EXPECT_THROW(static_cast<void>(fettle::even_demands(turning, 1)), fettle::error);
}

}  // namespace invert_table_test

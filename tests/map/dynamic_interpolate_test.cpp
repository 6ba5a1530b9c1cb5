// SPDX-License-Identifier: MIT
#include "fettle/map/dynamic_interpolate.hpp"

#include <gtest/gtest.h>

#include <array>
#include <vector>

namespace dynamic_interpolate_test {

using axis = fettle::dynamic_axis<double>;

TEST(DynamicInterpolate, GivesWhatTheViewOfEachRankGives) {
  const axis x = *axis::from({0, 1, 3}), y = *axis::from({10, 20}), z = *axis::from({-1, 1});
  const auto number = *fettle::dynamic_table<double>::from({}, {7});
  const auto curve = *fettle::dynamic_table<double>::from({x}, {1, 2, 5});
  const auto map = *fettle::dynamic_table<double>::from({x, y}, {1, 2, 3, 5, 8, 13});
  const auto cuboid = *fettle::dynamic_table<double>::from({x, y, z}, {1, 2, 3, 5, 8, 13, 21, 34, 55, 89, 144, 233});
  const std::array at{2.2, 13.0, 0.3};
  EXPECT_EQ(fettle::interpolate(number, {}), 7);
  EXPECT_EQ(fettle::interpolate(curve, at), fettle::interpolate(curve.view<1>(), 2.2));
  EXPECT_EQ(fettle::interpolate(map, at), fettle::interpolate(map.view<2>(), 2.2, 13.0));
  EXPECT_EQ(fettle::interpolate(cuboid, at), fettle::interpolate(cuboid.view<3>(), 2.2, 13.0, 0.3));
}

}  // namespace dynamic_interpolate_test

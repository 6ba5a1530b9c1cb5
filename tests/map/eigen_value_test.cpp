// SPDX-License-Identifier: MIT
// Cells that hold more than a number: vectors and automatic-differentiation scalars of Eigen, where it is installed.
#if __has_include(<Eigen/Core>)
#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Wconversion"
#pragma GCC diagnostic ignored "-Wsign-conversion"
#pragma GCC diagnostic ignored "-Wshadow"
#include <Eigen/Core>
#include <unsupported/Eigen/AutoDiff>
#pragma GCC diagnostic pop

#include <gtest/gtest.h>

#include "fettle/map/cells.hpp"
#include "fettle/map/nearest.hpp"
#include "fettle/map/slopes.hpp"

namespace eigen_value_test {

constexpr fettle::axis<float, 2> speed_rpm{{1000, 9000}}, throttle_pct{{0, 100}};

TEST(CellsOfEigenVectors, HoldOneValuePerCylinder) {
  using trims = Eigen::Matrix<float, 5, 1>;
  std::array<trims, 4> values;
  for (int i = 0; i < 4; ++i) values[static_cast<std::size_t>(i)] = trims::LinSpaced(5, 0, 4) * static_cast<float>(i);
  const fettle::cells<trims, 2, 2> map{values};
  const trims at = fettle::interpolate(map.over(speed_rpm, throttle_pct), 5000.0F, 25.0F);
  for (int c = 0; c < 5; ++c) EXPECT_FLOAT_EQ(at[c], static_cast<float>(c) * 1.25F);
  EXPECT_EQ(fettle::nearest(map.over(speed_rpm, throttle_pct), 8000.0F, 25.0F), values[2]);
  const auto sloped = fettle::interpolate_with_slopes(map.over(speed_rpm, throttle_pct), 5000.0F, 25.0F);
  EXPECT_FLOAT_EQ(sloped.slope[1][4], 4.0F / 100);
}

TEST(CellsOfEigenVectors, DoNotCountWhereTheyHaveNoWeight) {
  using pair = Eigen::Vector2d;
  constexpr fettle::axis<double, 2> axis{{0, 1}};
  const fettle::cells<pair, 2> map{std::array{pair{1, 2}, pair{std::nan(""), std::nan("")}}};
  EXPECT_EQ(fettle::interpolate(map.over(axis), 0.0), pair(1, 2));
  EXPECT_EQ(fettle::interpolate(map.over(axis), -3.0), pair(1, 2));
}

TEST(CellsOfDerivatives, CarryTheWeightOfEveryCell) {
  using scalar = Eigen::AutoDiffScalar<Eigen::Vector4d>;
  constexpr fettle::axis<double, 2> x{{0, 1}}, y{{0, 1}};
  std::array<scalar, 4> values;
  for (int i = 0; i < 4; ++i) values[static_cast<std::size_t>(i)] = scalar(10.0 * i, 4, i);
  const fettle::cells<scalar, 2, 2> map{values};
  const scalar at = fettle::interpolate(map.over(x, y), 0.25, 0.5);
  EXPECT_DOUBLE_EQ(at.value(), 10);
  EXPECT_TRUE(at.derivatives().isApprox(Eigen::Vector4d(0.375, 0.375, 0.125, 0.125), 1e-15));
}

}  // namespace eigen_value_test
#endif

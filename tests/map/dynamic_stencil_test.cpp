// SPDX-License-Identifier: MIT
#include "fettle/map/dynamic_stencil.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <array>
#include <cmath>
#include <cstddef>
#include <limits>
#include <utility>
#include <vector>

#include "draws.hpp"
#include "fettle/map/stencil.hpp"

namespace dynamic_stencil_test {

template <std::size_t R>
void equals_stencil_of_rank() {
  const auto map = draws::table<double, R>();
  std::vector<double> x;
  std::array<fettle::place<double>, R> places{};
  for (std::size_t a = 0; a < R; ++a) {
    x.push_back(draws::coordinate(map.axes()[a]));
    places[a] = fettle::locate(map.axes()[a].view(), x[a]);
  }
  const auto wanted = fettle::stencil_at(map.template view<R>().axes, places);
  const auto given = fettle::stencil_at(map.axes(), x);
  RC_ASSERT(given.size == wanted.size);
  for (std::size_t k = 0; k < wanted.size; ++k) {
    RC_ASSERT(given.cell[k] == wanted.cell[k]);
    RC_ASSERT(given.weight[k] == wanted.weight[k]);
  }
}

RC_GTEST_PROP(DynamicStencil, IsThatOfItsRank1, ()) {
  equals_stencil_of_rank<1>();
}
RC_GTEST_PROP(DynamicStencil, IsThatOfItsRank2, ()) {
  equals_stencil_of_rank<2>();
}
RC_GTEST_PROP(DynamicStencil, IsThatOfItsRank3, ()) {
  equals_stencil_of_rank<3>();
}

TEST(DynamicStencil, OfRank0IsTheOneCell) {
  const auto at = fettle::stencil_at(std::vector<fettle::dynamic_axis<double>>{}, {});
  EXPECT_EQ(at.size, 1U);
  EXPECT_EQ(at.cell[0], 0U);
  EXPECT_EQ(at.weight[0], 1.0);
}

TEST(DynamicStencil, OfNaNHasNaNWeightsOfValidCells) {
  const std::vector axes{*fettle::dynamic_axis<double>::from({1, 2, 3}), *fettle::dynamic_axis<double>::from({0, 1})};
  const auto at = fettle::stencil_at(axes, std::array{std::numeric_limits<double>::quiet_NaN(), 0.5});
  for (std::size_t k = 0; k < at.size; ++k) {
    EXPECT_LT(at.cell[k], 6U);
    EXPECT_TRUE(std::isnan(at.weight[k]));
  }
}

// The product of these axes wraps round to no crossing at all.
TEST(DynamicTable, RefusesMoreCrossingsThanItsTypeCounts) {
  if (sizeof(std::size_t) != 8) GTEST_SKIP() << "for counts of 64 bits";
  std::vector<float> points(std::size_t{1} << 22);
  for (std::size_t i = 0; i < points.size(); ++i) points[i] = static_cast<float>(i);
  const auto longer = *fettle::dynamic_axis<float>::from(points);
  points.resize(points.size() / 2);
  const auto shorter = *fettle::dynamic_axis<float>::from(std::move(points));
  EXPECT_FALSE(fettle::dynamic_table<float>::from({longer, shorter, shorter}, {}));
}

}  // namespace dynamic_stencil_test

// SPDX-License-Identifier: MIT
#include "fettle/map/compact_axis.hpp"

#include <gtest/gtest.h>

#include <array>
#include <cmath>

#include "fettle/map/interpolate.hpp"
#include "fettle/map/place.hpp"

namespace compact_axis_test {

constexpr fettle::axis<float, 5> full{{500, 1000, 2500, 4000, 9000}};
constexpr fettle::compact_axis<float, 5> compact{{500, 1000, 2500, 4000, 9000}};
static_assert(sizeof(compact) == 5 * sizeof(float) && sizeof(fettle::compact_axis<float, 16>) == 64);

TEST(CompactAxis, FindsTheSamePlacesAsAnAxisWithItsBuckets) {
  for (float x = 300; x < 9500; x += 7) {
    const auto at = fettle::locate(compact.view(), x), wanted = fettle::locate(full.view(), x);
    EXPECT_EQ(at.index, wanted.index) << x;
    EXPECT_NEAR(at.fraction, wanted.fraction, 2e-7F) << x;
  }
  EXPECT_FALSE((fettle::compact_axis<float, 3>::from({1, 3, 2})));
}

// A remembered place serves breakpoints without buckets too: the same place, to the bit.
TEST(CompactAxis, IsFoundByAHint) {
  fettle::place<float> last{};
  std::size_t cell = 0;
  for (float x = 300; x < 9500; x += 7) {
    const auto fresh = fettle::locate(compact.view(), x);
    last = fettle::locate(compact.view(), x, last);
    EXPECT_EQ(last.index, fresh.index);
    EXPECT_EQ(last.fraction, fresh.fraction);
    const auto point = fettle::search(compact.view(), x), hinted = fettle::search(compact.view(), x, cell);
    EXPECT_EQ(hinted.index, point.index);
    EXPECT_EQ(hinted.fraction, point.fraction);
  }
}

}  // namespace compact_axis_test

// SPDX-License-Identifier: MIT
#include "fettle/map/live_axis.hpp"

#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <cstdint>
#include <limits>

#include "fettle/map/interpolate.hpp"
#include "fettle/map/place.hpp"

namespace live_axis_test {

using fettle::axis_fault;

TEST(LiveAxis, IsAnAxisFrom0To1BeforeAnybodyFillsIt) {
  const fettle::live_axis<float, 8> axis;
  EXPECT_EQ(axis.size(), 2U);
  EXPECT_EQ(fettle::locate(axis.view(), 0.25F).fraction, 0.25F);
}

// An edit that breaks the order, or that is not finished: the last sound breakpoints go on, and the fault is named.
TEST(LiveAxis, KeepsTheLastSoundBreakpoints) {
  std::array<float, 5> owned{500, 1000, 2000, 4000, 8000};
  fettle::live_axis<float, 8> axis;
  EXPECT_EQ(axis.refresh(owned.data(), 5).fault, axis_fault::none);
  EXPECT_EQ(fettle::locate(axis.view(), 3000.0F).index, 2U);
  const float nan = std::nanf("");
  for (const float bad : {1000.0F, 500.0F, nan, std::numeric_limits<float>::infinity()}) {
    owned[3] = bad;
    const auto check = axis.refresh(owned.data(), 5);
    EXPECT_NE(check.fault, axis_fault::none);
    EXPECT_EQ(check.index, 3U);
    EXPECT_EQ(axis.size(), 5U);
    EXPECT_EQ(fettle::locate(axis.view(), 3000.0F).fraction, 0.5F);
  }
  owned[3] = 3000;
  EXPECT_EQ(axis.refresh(owned.data(), 5).fault, axis_fault::none);
  EXPECT_EQ(fettle::locate(axis.view(), 3000.0F).index, 3U);
  const std::array<float, 9> long_one{1, 2, 3, 4, 5, 6, 7, 8, 9};
  EXPECT_EQ(axis.refresh(long_one.data(), 9).fault, axis_fault::too_many);
  EXPECT_EQ(axis.refresh(long_one.data(), 1).fault, axis_fault::too_few);
  EXPECT_EQ(axis.size(), 5U);
}

TEST(LiveAxis, TakesAHintOfALongerAxis) {
  fettle::live_axis<float, 8> axis;
  const std::array<float, 8> before{1, 2, 3, 4, 5, 6, 7, 8};
  (void)axis.refresh(before.data(), 8);
  const auto hint = fettle::locate(axis.view(), 7.5F);
  (void)axis.refresh(before.data(), 3);
  for (const float x : {1.5F, 2.5F, 3.0F, 7.5F, 9.0F}) {
    const auto at = fettle::locate(axis.view(), x, hint), fresh = fettle::locate(axis.view(), x);
    EXPECT_EQ(at.index, fresh.index) << x;
    EXPECT_EQ(at.fraction, fresh.fraction) << x;
  }
}

TEST(LiveAxis, OfIntegersIsSearchedInIntegers) {
  fettle::live_axis<std::uint16_t, 16> axis;
  const std::array<std::uint16_t, 4> rpm{500, 1000, 3000, 7000};
  EXPECT_EQ(axis.refresh(rpm.data(), 4).fault, axis_fault::none);
  EXPECT_EQ(axis.view().size, 4U);
  EXPECT_NE(axis.view().buckets.first_cell, nullptr);
}

}  // namespace live_axis_test

// SPDX-License-Identifier: MIT
#include "fettle/map/blend.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>

#include "draws.hpp"
#include "fettle/map/axis.hpp"
#include "fettle/map/table.hpp"

namespace blend_test {

// Arithmetic: t = 1/4 in t^2 (3 - 2t) and 6t^5 - 15t^4 + 10t^3, worked out by hand in binary fractions.
static_assert(fettle::smooth_ramp(2.5, 2.0, 4.0) == 0.15625);
static_assert(fettle::smooth_ramp(3.0, 2.0, 4.0) == 0.5);
static_assert(fettle::quintic_ramp(2.5, 2.0, 4.0) == 0.103515625);
static_assert(fettle::quintic_ramp(3.0F, 2.0F, 4.0F) == 0.5F);
static_assert(fettle::ramp(2.5, 2.0, 4.0) == 0.25);
static_assert(fettle::ramp(1.0, 2.0, 4.0) == 0 && fettle::ramp(9.0, 2.0, 4.0) == 1);

TEST(Ramp, IsFlatAtBothEnds) {
  const double h = 1e-4;
  EXPECT_LT(fettle::smooth_ramp(h, 0.0, 1.0), 4 * h * h);
  EXPECT_LT(1 - fettle::smooth_ramp(1 - h, 0.0, 1.0), 4 * h * h);
  EXPECT_LT(fettle::quintic_ramp(h, 0.0, 1.0), 11 * h * h * h);
  EXPECT_LT(1 - fettle::quintic_ramp(1 - h, 0.0, 1.0), 11 * h * h * h);
}

TEST(Ramp, StaysBetween0And1AtEveryFloatFromOneHalfOn) {
  long outside = 0;
  for (float t = 0.5F; t < 1; t = std::nextafter(t, 1.0F))
    for (const float y : {fettle::smooth_ramp(t, 0.0F, 1.0F), fettle::quintic_ramp(t, 0.0F, 1.0F)})
      outside += y >= 0 && y <= 1 ? 0 : 1;
  EXPECT_EQ(outside, 0);
}

RC_GTEST_PROP(Ramp, StaysBetween0And1, ()) {
  const double from = draws::real(-100.0, 100.0), to = from + draws::real(0.001, 100.0);
  const double x = *rc::gen::element(draws::real(from, to), to - draws::real(0.0, 1e-6));
  for (const auto ramp : {fettle::ramp<double>, fettle::smooth_ramp<double>, fettle::quintic_ramp<double>})
    RC_ASSERT(ramp(x, from, to) >= 0 && ramp(x, from, to) <= 1);
}

TEST(Ramp, PassesNaNOn) {
  EXPECT_TRUE(std::isnan(fettle::quintic_ramp(std::nan(""), 0.0, 1.0)));
  EXPECT_TRUE(std::isnan(fettle::smooth_ramp(std::nan(""), 0.0, 1.0)));
  EXPECT_TRUE(std::isnan(fettle::crossfade(1.0, 2.0, std::nan(""))));
}

TEST(Ramp, WithoutLengthIsAStep) {
  EXPECT_EQ(fettle::ramp(1.0, 1.0, 1.0), 0);
  EXPECT_EQ(fettle::ramp(1.1, 1.0, 1.0), 1);
}

TEST(Crossfade, GivesEachMapAloneAtTheEnds) {
  EXPECT_EQ(fettle::crossfade(0.1, std::nan(""), 0.0), 0.1);
  EXPECT_EQ(fettle::crossfade(std::nan(""), 0.3, 1.0), 0.3);
  EXPECT_EQ(fettle::crossfade(1.0, 3.0, -5.0), 1.0);
  EXPECT_EQ(fettle::crossfade(1.0, 3.0, 5.0), 3.0);
}

// A share that float would round to 1.
static_assert(fettle::crossfade(0.7F, 1.9F, 1 - 0x1p-40) == 1.9F);

// Two maps of different axes, blended by a number, by a curve of a third input and by a map.
constexpr fettle::axis<float, 2> speed_rpm{{1000, 9000}}, throttle_pct{{0, 100}}, pressure_kpa{{20, 100}};
constexpr fettle::table alpha_n{speed_rpm, throttle_pct, {2, 10, 4, 30}};
constexpr fettle::table speed_density{speed_rpm, pressure_kpa, {4, 20, 6, 24}};
constexpr fettle::table share_of_throttle{throttle_pct, {0, 1}};
constexpr fettle::table share_of_both{speed_rpm, throttle_pct, {0.0F, 0.5F, 0.5F, 1.0F}};
constexpr float a = fettle::interpolate(alpha_n, 5000, 50), b = fettle::interpolate(speed_density, 5000, 60);
static_assert(a == 11.5F && b == 13.5F);
static_assert(fettle::crossfade(a, b, 0.25F) == 12.0F);
static_assert(fettle::crossfade(a, b, fettle::interpolate(share_of_throttle, 75)) == 13.0F);
static_assert(fettle::crossfade(a, b, fettle::interpolate(share_of_both, 5000, 50)) == 12.5F);

RC_GTEST_PROP(Crossfade, StaysBetweenItsValuesAndRisesWithTheShare, ()) {
  const double first = draws::real(-100.0, 100.0), second = draws::real(-100.0, 100.0);
  double s = draws::real(-0.2, 1.2), t = draws::real(-0.2, 1.2);
  if (t < s) std::swap(s, t);
  const double x = fettle::crossfade(first, second, s), y = fettle::crossfade(first, second, t);
  RC_ASSERT(x >= std::min(first, second) && x <= std::max(first, second));
  RC_ASSERT((first <= second ? x <= y : x >= y));
}

}  // namespace blend_test

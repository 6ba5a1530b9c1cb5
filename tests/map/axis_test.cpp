// SPDX-License-Identifier: MIT
#include "fettle/map/axis.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>
#include <cstdint>
#include <limits>
#include <type_traits>
#include <vector>

#include "draws.hpp"
#include "fettle/map/dynamic_table.hpp"
#include "fettle/map/even_axis.hpp"

namespace axis_test {

using fettle::axis_fault;
constexpr double nan = std::numeric_limits<double>::quiet_NaN(), inf = std::numeric_limits<double>::infinity();

constexpr fettle::axis<float, 5> speed_rpm{{800, 1500, 3000, 6000, 9000}};
static_assert(speed_rpm.size() == 5 && speed_rpm.points()[4] == 9000.0F);
static_assert(std::is_trivially_copyable_v<fettle::axis<float, 5>>);
static_assert(!fettle::axis<double, 2>::from({1, 1}));
static_assert(fettle::axis<double, 2>::from({1, 2})->points()[1] == 2);

void expect_fault(const std::vector<double>& points, axis_fault fault, std::size_t index) {
  const auto checked = fettle::check_axis(points.data(), points.size());
  EXPECT_EQ(checked.fault, fault);
  EXPECT_EQ(checked.index, index);
  EXPECT_EQ(fettle::dynamic_axis<double>::from(points).has_value(), fault == axis_fault::none);
}

TEST(Axis, NamesTheFirstFaultAndWhereItStands) {
  expect_fault({}, axis_fault::too_few, 0);
  expect_fault({7}, axis_fault::too_few, 1);
  expect_fault({nan}, axis_fault::too_few, 1);
  expect_fault({1, 2, 2, 3}, axis_fault::not_increasing, 2);
  expect_fault({1, 2, 1.5}, axis_fault::not_increasing, 2);
  expect_fault({3, 2, 1}, axis_fault::not_increasing, 1);
  expect_fault({nan, 2, 3}, axis_fault::not_finite, 0);
  expect_fault({1, nan, 3}, axis_fault::not_finite, 1);
  expect_fault({1, 2, inf}, axis_fault::not_finite, 2);
  expect_fault({-inf, 2}, axis_fault::not_finite, 0);
  expect_fault({0.0, -0.0}, axis_fault::not_increasing, 1);
}

TEST(Axis, RefusesAnAxisWiderThanItsTypeCanSay) {
  const double most = std::numeric_limits<double>::max();
  expect_fault({-most, 0, most}, axis_fault::too_wide, 2);
  expect_fault({-most / 2, 0, most / 2}, axis_fault::none, 0);
}

TEST(Axis, TakesTheSmallestCellsThatExist) {
  expect_fault({0, std::numeric_limits<double>::denorm_min()}, axis_fault::none, 0);
}

TEST(IntegerAxis, ChecksLikeAnyOther) {
  const std::vector<std::int8_t> sound{-128, 0, 127}, flat{-128, 5, 5};
  EXPECT_EQ(fettle::check_axis(sound.data(), sound.size()).fault, axis_fault::none);
  EXPECT_EQ(fettle::check_axis(flat.data(), flat.size()).fault, axis_fault::not_increasing);
  EXPECT_EQ(fettle::check_axis(flat.data(), flat.size()).index, 2U);
}

constexpr fettle::even_axis<double> throttle_pct{0, 6.25, 17};
static_assert(throttle_pct.point(16) == 100);
static_assert(throttle_pct.locate(50).index == 8 && throttle_pct.locate(50).fraction == 0);
static_assert(throttle_pct.locate(100).index == 15 && throttle_pct.locate(100).fraction == 1);
static_assert(throttle_pct.locate(1e300).fraction == 1 && throttle_pct.locate(-1).fraction == 0);
static_assert(throttle_pct.locate(9.375).index == 1 && throttle_pct.locate(9.375).fraction == 0.5);

TEST(EvenAxis, NamesWhatIsWrongWithIt) {
  using even = fettle::even_axis<double>;
  EXPECT_EQ(even::check(0, 1, 1), axis_fault::too_few);
  EXPECT_EQ(even::check(nan, 1, 3), axis_fault::not_finite);
  EXPECT_EQ(even::check(0, inf, 3), axis_fault::not_finite);
  EXPECT_EQ(even::check(0, nan, 3), axis_fault::not_finite);
  EXPECT_EQ(even::check(0, 0, 3), axis_fault::not_increasing);
  EXPECT_EQ(even::check(0, -1, 3), axis_fault::not_increasing);
  EXPECT_EQ(even::check(1e20, 1, 3), axis_fault::not_increasing) << "the interval drowns in the offset";
  EXPECT_EQ(fettle::even_axis<float>::check(0, 2, (1U << 25U) + 1), axis_fault::not_increasing) << "at its end";
  EXPECT_EQ(even::check(0, 1e307, 300), axis_fault::too_wide);
  EXPECT_FALSE(even::from(0, -1, 3));
  constexpr double most = std::numeric_limits<double>::max() / 4;
  EXPECT_EQ(even::check(most, most, 2), axis_fault::none) << "the largest numbers that are allowed";
  EXPECT_EQ(even::check(-most, most, 2), axis_fault::none);
  EXPECT_EQ(even::check(std::nextafter(-most, -inf), most, 2), axis_fault::not_finite);
}

constexpr float two_24 = 16777216;  // beyond it float has no odd numbers

TEST(EvenAxis, IsRefusedWhereRoundingWouldMakeBreakpointsRepeat) {
  using even = fettle::even_axis<float>;
  EXPECT_EQ(even::check(1e7F, 0.6F, 6), axis_fault::not_increasing);  // 10000001 and 10000002 twice
  EXPECT_EQ(even::check(two_24 - 60000, 1.0F, 50000), axis_fault::not_increasing);
  EXPECT_EQ(even::check(two_24 - 60000, 4.0F, 15000), axis_fault::none);
  EXPECT_EQ(even::check(two_24 - 64, 3.0F, 10), axis_fault::none);
  EXPECT_EQ(even::check(two_24 - 8, 3.0F, 10), axis_fault::not_increasing) << "beyond 2^24, where numbers are coarser";
  EXPECT_EQ(even::check(0, 1, (1U << 22U) + 1), axis_fault::none) << "the longest";
  EXPECT_EQ(even::check(0, 1, (1U << 22U) + 2), axis_fault::not_increasing);
}

/// An axis near the limit: the first that is taken of ever wider intervals, from below the rounding of its offset on.
template <class T>
fettle::even_axis<T> axis_near_the_limit() {
  const std::size_t size = *rc::gen::inRange<std::size_t>(2, *rc::gen::element(10U, 3000U));
  const T far = std::pow(T{2}, draws::real<T>(-20, 40)) * *rc::gen::element(T{-1}, T{1}), back = draws::real<T>(0, 2);
  T interval = std::abs(far) * std::numeric_limits<T>::epsilon() / T{4};
  for (;; interval *= T{1.0625})
    if (const auto axis = fettle::even_axis<T>::from(far - back * static_cast<T>(size - 1) * interval, interval, size))
      return *axis;
}

template <class T>
void breakpoints_increase() {
  const auto axis = axis_near_the_limit<T>();
  for (std::size_t i = 1; i < axis.size(); ++i) RC_ASSERT(axis.point(i - 1) < axis.point(i));
}
RC_GTEST_PROP(EvenAxis, BreakpointsStrictlyIncreaseInFloat, ()) {
  breakpoints_increase<float>();
}
RC_GTEST_PROP(EvenAxis, BreakpointsStrictlyIncreaseInDouble, ()) {
  breakpoints_increase<double>();
}

TEST(EvenAxis, OfTwoBreakpointsIsTheSmallest) {
  const auto axis = fettle::even_axis<float>::from(0, 2, 2);
  ASSERT_TRUE(axis);
  EXPECT_EQ(axis->locate(0.5F).fraction, 0.25F);
}

TEST(EvenAxis, ByShiftHasIntervalsOfAPowerOfTwo) {
  const auto axis = fettle::even_axis<float>::from_shift(100, -2, 5);
  ASSERT_TRUE(axis);
  EXPECT_EQ(axis->point(4), 101.0F);
  EXPECT_EQ(axis->locate(100.375F).index, 1U);
  EXPECT_EQ(axis->locate(100.375F).fraction, 0.5F);
  EXPECT_EQ(fettle::even_axis<float>::from_shift(0, 8, 3)->point(2), 512.0F);
  EXPECT_FALSE(fettle::even_axis<float>::from_shift(0, 2000, 3));
  EXPECT_FALSE(fettle::even_axis<float>::from_shift(0, -2000, 3));
}

// Against long double: the fraction is right to some units in the last place of the cells passed, never 1, and never
// falls; on a breakpoint it is exactly 0.
template <class T>
void even_places_are_right() {
  const T interval = std::pow(T{2}, draws::real<T>(-8, 12)), first = draws::real<T>(-4, 4) * interval;
  const std::size_t size = *rc::gen::inRange<std::size_t>(2, 40);
  const auto axis = fettle::even_axis<T>::from(first, interval, size);
  RC_PRE(axis.has_value());
  const T far = std::max(std::abs(axis->point(0)), std::abs(axis->point(size - 1)));
  const long double ulps = 8 * static_cast<long double>(std::numeric_limits<T>::epsilon());
  const long double bound = ulps * (static_cast<long double>(size) + static_cast<long double>(far / interval));
  long double before = -1;
  for (int k = -20; k <= 1020; ++k) {
    const T x = first + static_cast<T>(size - 1) * interval * (static_cast<T>(k) / 1000);
    const auto at = search(*axis, x);
    RC_ASSERT(at.index < size && at.fraction >= 0 && at.fraction < 1);
    const long double reached = static_cast<long double>(at.index) + static_cast<long double>(at.fraction);
    const long double exact = (static_cast<long double>(x) - static_cast<long double>(first)) / interval;
    const long double clamped = std::min(std::max(exact, 0.0L), static_cast<long double>(size - 1));
    RC_ASSERT(std::abs(reached - clamped) <= bound);
    RC_ASSERT(reached >= before);
    before = reached;
  }
}
RC_GTEST_PROP(EvenAxis, PlacesAreRightToSomeUnitsInTheLastPlaceInFloat, ()) {
  even_places_are_right<float>();
}
RC_GTEST_PROP(EvenAxis, PlacesAreRightToSomeUnitsInTheLastPlaceInDouble, ()) {
  even_places_are_right<double>();
}

// Axes near the limit of what rounding allows are searched with care instead: still exact, and still in order.
template <class T>
void fine_axes_are_exact_too() {
  const auto axis = axis_near_the_limit<T>();
  for (std::size_t i = 0; i < axis.size(); ++i) {
    const auto at = search(axis, axis.point(i));
    RC_ASSERT(at.index == i && at.fraction == 0);
    if (i + 1 < axis.size()) {
      const auto below = search(axis, std::nextafter(axis.point(i + 1), axis.point(i)));
      RC_ASSERT(below.index == i || (below.index == i + 1 && below.fraction == 0));
    }
  }
}
#ifndef __FP_FAST_FMA  // there the product and sum of a breakpoint may be fused on one side only
RC_GTEST_PROP(EvenAxis, NearTheLimitIsExactInFloat, ()) {
  fine_axes_are_exact_too<float>();
}
RC_GTEST_PROP(EvenAxis, NearTheLimitIsExactInDouble, ()) {
  fine_axes_are_exact_too<double>();
}
#endif

TEST(EvenAxis, GivesNaNForNaN) {
  const auto at = throttle_pct.locate(nan);
  EXPECT_NE(at.fraction, at.fraction);
  EXPECT_LT(at.index, 16U);
}

TEST(EvenAxis, IsExactOnItsOwnBreakpoints) {
  const auto axis = fettle::even_axis<double>::from(0.1, 0.1, 1000);
  for (std::size_t i = 0; i + 1 < axis->size(); ++i) {
    const auto at = fettle::locate(*axis, axis->point(i));
#ifdef __FP_FAST_FMA  // the product and sum of a breakpoint may be fused on one side only: off by that rounding
    EXPECT_NEAR(static_cast<double>(at.index) + at.fraction, static_cast<double>(i), 1e-12) << i;
#else
    EXPECT_EQ(at.index, i);
    EXPECT_EQ(at.fraction, 0) << i;
#endif
  }
}

}  // namespace axis_test

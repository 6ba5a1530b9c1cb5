// SPDX-License-Identifier: MIT
#include "fettle/map/integer.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <limits>

#include "fettle/map/interpolate.hpp"
#include "fettle/map/linear_scaling.hpp"
#include "reference.hpp"

namespace integer_test {

// Published arithmetic: tests/reference/fixed_point_curve.csv, a 16-bit curve worked out in exact rationals; index and
// floor(ratio * 65536) must agree to the digit, the value with the exact one rounded half up.
TEST(IntegerCurve, MatchesExactRationalArithmetic) {
  constexpr fettle::axis<std::uint16_t, 4> axis{{0, 1000, 3000, 10000}};
  constexpr std::array<std::uint16_t, 4> values{500, 700, 650, 2000};
  const fettle::map_view<1, std::uint16_t> curve{.axes = {axis.view()}, .values = values.data()};
  for (const auto& row : reference::csv::read("fixed_point_curve.csv").rows) {
    const auto number = [&](const char* name) { return static_cast<std::uint32_t>(reference::csv::number(row, name)); };
    const auto x = static_cast<std::uint16_t>(number("x"));
    const auto at = fettle::locate(curve.axes[0], x);
    EXPECT_EQ(at.index * 65536 + at.fraction, number("index") * 65536 + number("ratio16")) << x;
    EXPECT_EQ(fettle::interpolate(curve, x), number("rounded")) << x;
  }
}

/// Every x, every pair of values, of every cell width: |result - exact| <= 1 in integers, exact = a + (b-a) part/whole.
template <class Cell>
void every_8_bit_curve_is_within_one() {
  constexpr int low = std::numeric_limits<Cell>::min(), high = std::numeric_limits<Cell>::max();
  long long beyond = 0, outside = 0;
  for (int whole = 1; whole <= 255; ++whole)
    for (int part = 0; part <= whole; ++part) {
      const fettle::integer_place at{0, part == whole ? 65536U
                                                      : fettle::detail::fraction16(static_cast<std::uint32_t>(part),
                                                                                   static_cast<std::uint16_t>(whole))};
      for (int a = low; a <= high; a += 3)
        for (int b = low; b <= high; b += (b + 7 <= high || b == high ? 7 : high - b)) {
          const Cell values[] = {static_cast<Cell>(a), static_cast<Cell>(b)};
          const fettle::map_view<1, std::uint8_t, Cell> curve{.axes = {{{nullptr, 2}}}, .values = values};
          const int result = fettle::interpolate(curve, std::array{at});
          const int error = (result - a) * whole - (b - a) * part;  // times whole
          beyond += error > whole || error < -whole ? 1 : 0;
          outside += result < std::min(a, b) || result > std::max(a, b) ? 1 : 0;
        }
    }
  EXPECT_EQ(beyond, 0);
  EXPECT_EQ(outside, 0);
}
TEST(IntegerCurve, EveryUnsigned8BitValueIsWithinOneOfExact) {
  every_8_bit_curve_is_within_one<std::uint8_t>();
}
TEST(IntegerCurve, EverySigned8BitValueIsWithinOneOfExact) {
  every_8_bit_curve_is_within_one<std::int8_t>();
}

TEST(IntegerCurve, EveryPairOf8BitValuesAndFractionIsWithinOneOfExact) {
  long long beyond = 0;
  for (std::uint32_t f = 0; f <= 65536; f += 16)
    for (int a = 0; a < 256; ++a)
      for (int b = 0; b < 256; b += 5) {
        const std::uint8_t values[] = {static_cast<std::uint8_t>(a), static_cast<std::uint8_t>(b)};
        const fettle::map_view<1, std::uint8_t> curve{.axes = {{{nullptr, 2}}}, .values = values};
        const std::int64_t result = fettle::interpolate(curve, std::array{fettle::integer_place{0, f}});
        const std::int64_t error = (result - a) * 65536 - std::int64_t{b - a} * f;
        beyond += error > 65536 || error < -65536 ? 1 : 0;
      }
  EXPECT_EQ(beyond, 0);
}

/// Rank 2 against long double, on the full range of each cell type.
template <class Cell>
void a_map_is_within_one_of_exact() {
  constexpr auto low = std::numeric_limits<Cell>::min(), high = std::numeric_limits<Cell>::max();
  std::array<Cell, 9> values;
  for (auto& v : values)
    v = *rc::gen::weightedOneOf<Cell>({{1, rc::gen::element(low, high)}, {2, rc::gen::arbitrary<Cell>()}});
  constexpr fettle::axis<std::int16_t, 3> x_axis{{-20000, 3, 32767}};
  constexpr fettle::axis<std::int16_t, 3> y_axis{{-100, 700, 1500}};
  const fettle::map_view<2, std::int16_t, Cell> map{.axes = {x_axis.view(), y_axis.view()}, .values = values.data()};
  const std::array at{fettle::locate(map.axes[0], *rc::gen::arbitrary<std::int16_t>()),
                      fettle::locate(map.axes[1], static_cast<std::int16_t>(*rc::gen::inRange(-200, 1600)))};
  const auto corner = [&](std::size_t i, std::size_t j) {
    return static_cast<long double>(values[(at[0].index + i) * 3 + at[1].index + j]);
  };
  const long double t = at[0].fraction / 65536.0L, u = at[1].fraction / 65536.0L;
  const long double exact =
      (1 - t) * ((1 - u) * corner(0, 0) + u * corner(0, 1)) + t * ((1 - u) * corner(1, 0) + u * corner(1, 1));
  const auto result = static_cast<long double>(fettle::interpolate(map, at));
  RC_ASSERT(std::abs(result - exact) <= 0.6L);  // half a unit of rounding and the guard bits
  std::array<fettle::integer_place, 2> hint{};
  const std::int16_t x = *rc::gen::arbitrary<std::int16_t>();
  RC_ASSERT(fettle::interpolate(map, hint, x, std::int16_t{7}) == fettle::interpolate(map, x, std::int16_t{7}));
  RC_ASSERT(fettle::interpolate(map, hint, x, std::int16_t{7}) == fettle::interpolate(map, x, std::int16_t{7}));
}
RC_GTEST_PROP(IntegerMap, Of8BitCellsIsWithinRoundingOfExact, ()) {
  a_map_is_within_one_of_exact<std::int8_t>();
}
RC_GTEST_PROP(IntegerMap, Of16BitCellsIsWithinRoundingOfExact, ()) {
  a_map_is_within_one_of_exact<std::uint16_t>();
}
RC_GTEST_PROP(IntegerMap, Of32BitCellsIsWithinRoundingOfExact, ()) {
  a_map_is_within_one_of_exact<std::int32_t>();
}
RC_GTEST_PROP(IntegerMap, OfUnsigned32BitCellsIsWithinRoundingOfExact, ()) {
  a_map_is_within_one_of_exact<std::uint32_t>();
}

template <class T>
void finds_every_place() {
  std::vector<T> points;
  const auto count = *rc::gen::inRange<std::size_t>(2, 30);
  for (std::size_t i = 0; i < count; ++i) points.push_back(*rc::gen::arbitrary<T>());
  points.push_back(std::numeric_limits<T>::max());
  if (*rc::gen::arbitrary<bool>()) points.push_back(std::numeric_limits<T>::min());
  std::sort(points.begin(), points.end());
  points.erase(std::unique(points.begin(), points.end()), points.end());
  RC_PRE(points.size() >= 2U);
  std::vector<std::uint16_t> first_cell(fettle::detail::bucket_count(points.size()));
  const fettle::axis_view<T> axis{
      points.data(), points.size(),
      fettle::detail::make_buckets(points.data(), points.size(), first_cell.data(), static_cast<T*>(nullptr))};
  const T x = *rc::gen::oneOf(rc::gen::arbitrary<T>(), rc::gen::elementOf(points));
  const auto at = fettle::locate(axis, x);
  if (x <= points.front()) {
    RC_ASSERT(at.index == 0U && at.fraction == 0U);
  } else if (x >= points.back()) {
    RC_ASSERT(at.index == points.size() - 2 && at.fraction == 65536U);
  } else {
    RC_ASSERT(points[at.index] <= x && x < points[at.index + 1]);
    const auto part = static_cast<std::int64_t>(x) - static_cast<std::int64_t>(points[at.index]);
    const auto whole = static_cast<std::int64_t>(points[at.index + 1]) - static_cast<std::int64_t>(points[at.index]);
    RC_ASSERT(at.fraction == static_cast<std::uint32_t>(part * 65536 / whole));
  }
}
RC_GTEST_PROP(IntegerAxis, FindsEveryPlaceOf8Bits, ()) {
  finds_every_place<std::int8_t>();
}
RC_GTEST_PROP(IntegerAxis, FindsEveryPlaceOf16Bits, ()) {
  finds_every_place<std::uint16_t>();
}
RC_GTEST_PROP(IntegerAxis, FindsEveryPlaceOfSigned16Bits, ()) {
  finds_every_place<std::int16_t>();
}
RC_GTEST_PROP(IntegerAxis, FindsEveryPlaceOf32Bits, ()) {
  finds_every_place<std::int32_t>();
}
RC_GTEST_PROP(IntegerAxis, FindsEveryPlaceOfUnsigned32Bits, ()) {
  finds_every_place<std::uint32_t>();
}

RC_GTEST_PROP(IntegerAxis, ComputedAxesAgreeWithStoredOnes, ()) {
  const auto first = static_cast<std::int16_t>(*rc::gen::inRange(-30000, 1000));
  const auto shift = *rc::gen::inRange(0U, 11U);
  const auto stored = [&](int interval) {
    std::array<std::int16_t, 9> points;
    for (int i = 0; i < 9; ++i) points[static_cast<std::size_t>(i)] = static_cast<std::int16_t>(first + i * interval);
    return *fettle::axis<std::int16_t, 9>::from(points);
  };
  const auto near = [&](int interval) {
    return static_cast<std::int16_t>(first + *rc::gen::inRange(-10, 9 * interval + 10));
  };
  const auto same = [](fettle::integer_place a, fettle::integer_place b) {
    return a.index == b.index && a.fraction == b.fraction;
  };
  const auto by_shift = fettle::shift_axis<std::int16_t>::from(first, shift, 9);
  const auto x = near(1 << shift);
  RC_ASSERT(same(by_shift->locate(x), fettle::locate(stored(1 << shift).view(), x)));
  const auto interval = static_cast<std::int16_t>(*rc::gen::inRange(1, 1900));
  const auto by_interval = fettle::even_integer_axis<std::int16_t>::from(first, interval, 9);
  const auto y = near(interval);
  RC_ASSERT(same(by_interval->locate(y), fettle::locate(stored(interval).view(), y)));
  RC_ASSERT(same(by_interval->locate(y), fettle::locate(*by_interval, y)));
  RC_ASSERT(same(by_shift->locate(x), fettle::locate(*by_shift, x)));
}

TEST(IntegerAxis, ComputedAxesRefuseWhatDoesNotFit) {
  EXPECT_FALSE(fettle::shift_axis<std::uint8_t>::from(0, 4, 17));
  EXPECT_TRUE(fettle::shift_axis<std::uint8_t>::from(0, 4, 16));
  EXPECT_FALSE(fettle::shift_axis<std::uint8_t>::from(0, 4, 1));
  EXPECT_FALSE(fettle::shift_axis<std::int32_t>::from(0, 32, 2));
  EXPECT_FALSE(fettle::even_integer_axis<std::int16_t>::from(0, 0, 4));
  EXPECT_FALSE(fettle::even_integer_axis<std::int16_t>::from(0, -5, 4));
  EXPECT_FALSE(fettle::even_integer_axis<std::int16_t>::from(32000, 400, 3));
  EXPECT_TRUE(fettle::even_integer_axis<std::int16_t>::from(32000, 250, 4));
  EXPECT_FALSE(fettle::even_integer_axis<std::int16_t>::from(32000, 250, 5));
}

TEST(IntegerMap, HoldsTheEndForCoordinatesThatItsAxisTypeCannotHold) {
  constexpr fettle::axis<std::uint8_t, 2> axis{{10, 200}};
  constexpr std::array<std::int16_t, 2> values{-50, 140};
  const fettle::map_view<1, std::uint8_t, std::int16_t> curve{.axes = {axis.view()}, .values = values.data()};
  EXPECT_EQ(fettle::interpolate(curve, 70000), 140);
  EXPECT_EQ(fettle::interpolate(curve, -1), -50);
  EXPECT_EQ(fettle::interpolate(curve, std::numeric_limits<std::uint64_t>::max()), 140);
  EXPECT_EQ(fettle::interpolate(curve, std::int64_t{105}), 45);
}

// A linear conversion both ways: physical = factor raw + offset. A round trip in each direction guards against the
// classic trap of applying the inverse rule.
TEST(LinearScaling, GoesThereAndBack) {
  static_assert(fettle::linear_scaling<float>{}.physical(7) == 7.0F);
  constexpr fettle::linear_scaling<float> temperature_c{0.5F, -40};
  static_assert(temperature_c.physical(200) == 60.0F);
  static_assert(*temperature_c.raw<std::uint8_t>(60.0F) == 200);
  for (int raw = 0; raw < 256; ++raw) EXPECT_EQ(*temperature_c.raw<std::uint8_t>(temperature_c.physical(raw)), raw);
  EXPECT_EQ(*temperature_c.raw<std::uint8_t>(1e9F), 255);
  EXPECT_EQ(*temperature_c.raw<std::uint8_t>(-1e9F), 0);
  EXPECT_EQ(*temperature_c.raw<std::int8_t>(-40.2F), 0);
  EXPECT_EQ(*temperature_c.raw<std::int8_t>(-40.4F), -1);
  EXPECT_FALSE(temperature_c.raw<std::uint8_t>(std::numeric_limits<float>::quiet_NaN()));
  static_assert(temperature_c.in_raw_units(60.25F) == 200.5F);
  static_assert(temperature_c.physical_fine(200 * 65536 + 32768) == 60.25F);
}

/// Whole numbers, halves and their neighbours, near 0 and where a T holds no more halves.
template <class T>
T near_a_half() {
  const T whole = static_cast<T>(*rc::gen::inRange(-9000000, 9000000)) * *rc::gen::element(T{1}, T{0x1p-20});
  const T half = std::trunc(whole) + *rc::gen::element(T{0}, T{0.5}, T{-0.5});
  return *rc::gen::element(half, std::nextafter(half, T{-1e9}), std::nextafter(half, T{1e9}), whole);
}

// Published: C17 (ISO/IEC 9899:2018) 7.12.9.6, `round` gives the nearest whole number, half way away from zero.
template <class T>
void raw_is_the_nearest_whole_number() {
  const T value = near_a_half<T>(), clamped = std::min(std::max(value, T{-128}), T{127});
  constexpr fettle::linear_scaling<T> as_is{};
  RC_ASSERT(static_cast<T>(*as_is.template raw<std::int32_t>(value)) == std::round(value));
  RC_ASSERT(static_cast<T>(*as_is.template raw<std::uint32_t>(value)) == std::round(std::max(value, T{0})));
  RC_ASSERT(static_cast<T>(*as_is.template raw<std::int8_t>(value)) == std::round(clamped));
}
RC_GTEST_PROP(LinearScaling, GivesTheNearestWholeNumberInFloat, ()) {
  raw_is_the_nearest_whole_number<float>();
}
RC_GTEST_PROP(LinearScaling, GivesTheNearestWholeNumberInDouble, ()) {
  raw_is_the_nearest_whole_number<double>();
}

TEST(LinearScaling, FindsEveryWholeNumberOfAFloat) {
  constexpr fettle::linear_scaling<float> as_is{};
  static_assert(*as_is.raw<std::int32_t>(8388609.0F) == 8388609);
  static_assert(*fettle::linear_scaling<double>{}.raw<std::int8_t>(0.49999999999999994) == 0);
  int wrong = 0;
  for (int raw = 8388608; raw < 16777216; raw += 7) wrong += *as_is.raw<std::int32_t>(as_is.physical(raw)) != raw;
  EXPECT_EQ(wrong, 0);
}

TEST(LinearScaling, HoldsTheEndsOf32Bits) {
  constexpr fettle::linear_scaling<float> as_is{};
  EXPECT_EQ(*as_is.raw<std::int32_t>(2147483648.0F), 2147483647);
  EXPECT_EQ(*as_is.raw<std::int32_t>(2147483520.0F), 2147483520);
  EXPECT_EQ(*as_is.raw<std::int32_t>(-1e30F), -2147483647 - 1);
  EXPECT_EQ(*as_is.raw<std::uint32_t>(4294967040.0F), 4294967040U);
  EXPECT_EQ(*as_is.raw<std::uint32_t>(1e19F), 4294967295U);
  EXPECT_EQ(*fettle::linear_scaling<double>{}.raw<std::int8_t>(-127.5), -128);
}

// A map in flash, read in a constant expression.
constexpr fettle::axis<std::uint16_t, 3> speed_rpm{{1000, 3000, 9000}};
constexpr fettle::axis<std::uint8_t, 2> nothing{{0, 1}};
constexpr std::array<std::uint8_t, 3> duty{20, 80, 250};
static_assert(fettle::interpolate(fettle::map_view<1, std::uint16_t, std::uint8_t>{.axes = {speed_rpm.view()},
                                                                                   .values = duty.data()},
                                  2000) == 50);
static_assert(nothing.size() == 2);

}  // namespace integer_test

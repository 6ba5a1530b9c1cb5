// SPDX-License-Identifier: MIT
#include "fettle/map/place.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>
#include <limits>

#include "draws.hpp"
#include "fettle/map/axis.hpp"

namespace place_test {

/// The cell as a plain loop finds it.
template <class T>
std::size_t cell_by_hand(const std::vector<T>& points, T x) {
  std::size_t cell = 0;
  while (cell + 2 < points.size() && points[cell + 1] <= x) ++cell;
  return cell;
}

template <class T>
void finds_the_cell_of_every_coordinate() {
  const auto axis = draws::axis<T>();
  const auto& p = axis.points();
  const T x = draws::coordinate(axis);
  const auto at = fettle::locate(axis.view(), x);
  RC_ASSERT(at.index == cell_by_hand(p, x));
  RC_ASSERT(at.fraction >= T{0} && at.fraction <= T{1});
  RC_ASSERT((at.fraction == T{1}) == (x >= p.back()));
  RC_ASSERT((x > p.front()) || at.fraction == T{0});
  const T width = p[at.index + 1] - p[at.index], clamped = std::min(std::max(x, p.front()), p.back());
  RC_ASSERT(std::abs(at.fraction - (clamped - p[at.index]) / width) <= 4 * std::numeric_limits<T>::epsilon());
}
RC_GTEST_PROP(Place, FindsTheCellOfEveryCoordinateDouble, ()) {
  finds_the_cell_of_every_coordinate<double>();
}
RC_GTEST_PROP(Place, FindsTheCellOfEveryCoordinateFloat, ()) {
  finds_the_cell_of_every_coordinate<float>();
}

template <class T>
void is_the_same_whatever_the_hint_and_with_or_without_buckets() {
  const auto axis = draws::axis<T>();
  const T x = draws::coordinate(axis);
  const auto at = fettle::locate(axis.view(), x);
  const fettle::place<T> hint{*rc::gen::inRange<std::size_t>(0, axis.size() - 1), T{0.5}};
  const auto hinted = fettle::locate(axis.view(), x, hint);
  RC_ASSERT(hinted.index == at.index);
  RC_ASSERT(hinted.fraction == at.fraction);
  const auto plain = fettle::locate(fettle::axis_view<T>{axis.points().data(), axis.size()}, x);
  RC_ASSERT(plain.index == at.index);
  RC_ASSERT(std::abs(plain.fraction - at.fraction) <= 4 * std::numeric_limits<T>::epsilon());
}
RC_GTEST_PROP(Place, IsTheSameWhateverTheHintDouble, ()) {
  is_the_same_whatever_the_hint_and_with_or_without_buckets<double>();
}
RC_GTEST_PROP(Place, IsTheSameWhateverTheHintFloat, ()) {
  is_the_same_whatever_the_hint_and_with_or_without_buckets<float>();
}

template <class T>
void rises_with_the_coordinate() {
  const auto axis = draws::axis<T>();
  T low = draws::coordinate(axis), high = draws::coordinate(axis);
  if (high < low) std::swap(low, high);
  const auto a = fettle::locate(axis.view(), low), b = fettle::locate(axis.view(), high);
  RC_ASSERT(a.index < b.index || (a.index == b.index && a.fraction <= b.fraction));
}
RC_GTEST_PROP(Place, RisesWithTheCoordinateDouble, ()) {
  rises_with_the_coordinate<double>();
}
RC_GTEST_PROP(Place, RisesWithTheCoordinateFloat, ()) {
  rises_with_the_coordinate<float>();
}

RC_GTEST_PROP(Place, OfNaNIsNaNInAValidCell, ()) {
  const auto axis = draws::axis<double>();
  const double nan = std::numeric_limits<double>::quiet_NaN();
  for (const auto& at : {fettle::locate(axis.view(), nan), fettle::locate(axis.view(), nan, {0, 0.0}),
                         fettle::locate(fettle::axis_view<double>{axis.points().data(), axis.size()}, nan)}) {
    RC_ASSERT(std::isnan(at.fraction));
    RC_ASSERT(at.index + 1 < axis.size());
  }
}

TEST(Place, IsBelowOneBeforeABreakpointHoweverTheDifferencesRound) {
  // -1 .. 1e-3: the neighbour below 1e-3 is as far from -1 as 1e-3 itself, to rounding.
  constexpr fettle::axis<double, 3> axis{{-1, 1e-3, 1}};
  const auto at = fettle::locate(axis.view(), std::nextafter(1e-3, 0.0));
  EXPECT_EQ(at.index, 0U);
  EXPECT_LT(at.fraction, 1.0);
}

TEST(Place, SearchOfATypicalAxisTakesOneComparison) {
  constexpr fettle::axis<float, 16> speed_rpm{
      {500, 800, 1100, 1500, 2000, 2500, 3000, 3500, 4000, 4500, 5000, 5500, 6000, 7000, 8000, 9000}};
  static_assert(speed_rpm.view().buckets.window == 2);
  EXPECT_NE(speed_rpm.view().buckets.first_cell, nullptr);
}

// 65536 breakpoints are the most that buckets number; a longer axis is searched without them.
TEST(Place, IsFoundOnAxesLongerThanBucketsCanNumber) {
  for (const std::size_t size : {65536U, 65537U}) {
    std::vector<double> points(size);
    for (std::size_t i = 0; i < size; ++i) points[i] = 1.5 * static_cast<double>(i);
    const auto axis = *fettle::dynamic_axis<double>::from(points);
    EXPECT_EQ(axis.view().buckets.inverse_width != nullptr, size == 65536);
    for (const std::size_t cell : {std::size_t{0}, std::size_t{1}, std::size_t{40000}, size - 2}) {
      const auto at = fettle::locate(axis.view(), 1.5 * static_cast<double>(cell) + 0.375);
      EXPECT_EQ(at.index, cell);
      EXPECT_EQ(at.fraction, 0.25);
    }
  }
}

// Breakpoints that are read in place while somebody edits them: whatever they hold, the index is valid and the fraction
// between 0 and 1, so that a look-up stays within the values of the map.
RC_GTEST_PROP(Place, StaysOnTheAxisWhateverTheBreakpointsHold, ()) {
  const float odd[] = {std::nanf(""),
                       std::numeric_limits<float>::infinity(),
                       -std::numeric_limits<float>::infinity(),
                       0,
                       1,
                       -1,
                       3e38F,
                       -3e38F,
                       1e-40F};
  std::vector<float> points;
  const auto size = *rc::gen::inRange<std::size_t>(2, 20);
  for (std::size_t i = 0; i < size; ++i) points.push_back(odd[*rc::gen::inRange(0, 9)]);
  const fettle::axis_view<float> axis{points.data(), size};
  fettle::place<float> hint{*rc::gen::inRange<std::size_t>(0, size - 1), 0};
  std::size_t cell = hint.index;
  for (const float x : {0.5F, -2.0F, 1.0F, 1e30F, std::numeric_limits<float>::infinity()}) {
    const auto point = search(axis, x), hinted = search(axis, x, cell);
    const auto at = locate(axis, x, hint);
    for (const float fraction : {point.fraction, hinted.fraction, at.fraction})
      RC_ASSERT(fraction >= 0 && fraction <= 1);
    RC_ASSERT(point.index < size && hinted.index < size && at.index + 1 < size && cell + 1 < size);
  }
}

}  // namespace place_test

// SPDX-License-Identifier: MIT
#include "fettle/map/interpolate.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <algorithm>
#include <cmath>
#include <complex>
#include <limits>

#include "draws.hpp"
#include "exact_look_up.hpp"
#include "fettle/map/cells.hpp"
#include "fettle/map/even_axis.hpp"
#include "fettle/map/nearest.hpp"
#include "fettle/map/slopes.hpp"
#include "fettle/map/stencil.hpp"
#include "reference.hpp"

namespace interpolate_test {

/// The throttle-speed air map of the Crossley & Cook (1991) engine model, first 42 nodes.
fettle::dynamic_table<double> air_map() {
  std::vector<double> theta, speed, values;
  for (const auto& row : reference::csv::read("throttle_speed_air.csv").rows) {
    if (values.size() == 42) break;
    const double t = reference::csv::number(row, "theta_deg"), n = reference::csv::number(row, "N_rad_s");
    if (theta.empty() || theta.back() != t) theta.push_back(t);
    if (theta.size() == 1) speed.push_back(n);
    values.push_back(reference::csv::number(row, "air_g_per_event"));
  }
  return *fettle::dynamic_table<double>::from(
      {*fettle::dynamic_axis<double>::from(theta), *fettle::dynamic_axis<double>::from(speed)}, values);
}

// Published: bilinear values by SciPy RegularGridInterpolator on clamped inputs, index and ratio per axis with the end
// as (last index, ratio 0), and the node at the lower index (tests/reference/map_lookup.csv). 1e-12 relative, double.
TEST(InterpolateRank2, MatchesSciPyOnThrottleSpeedAirMap) {
  const auto map = air_map();
  const auto view = map.view<2>();
  for (const auto& row : reference::csv::read("map_lookup.csv").rows) {
    const auto number = [&](const char* name) { return reference::csv::number(row, name); };
    const double x = number("theta"), y = number("N");
    EXPECT_NEAR(fettle::interpolate(view, x, y), number("bilinear"), 1e-12 * number("bilinear")) << x << ' ' << y;
    EXPECT_NEAR(fettle::at_or_below(view, x, y), number("lookup"), 1e-12 * number("lookup")) << x << ' ' << y;
    const auto at = fettle::locate(view, x, y);
    EXPECT_NEAR(static_cast<double>(at[0].index) + at[0].fraction, number("i_theta") + number("ratio_theta"), 1e-12);
    EXPECT_NEAR(static_cast<double>(at[1].index) + at[1].fraction, number("i_N") + number("ratio_N"), 1e-12);
  }
}

// Published: trilinear values by SciPy RegularGridInterpolator (tests/reference/cuboid_lookup.csv), 1e-12 relative.
TEST(InterpolateRank3, MatchesSciPyOnACuboid) {
  const std::vector<double> a{0, 1, 3, 7}, b{-2, 0, 5}, c{10, 20, 50, 60, 100};
  std::vector<double> values;
  for (const double x : a)
    for (const double y : b)
      for (const double z : c) values.push_back(std::sin(x) + 0.1 * y * y + std::sqrt(z));
  const auto map = fettle::dynamic_table<double>::from(
      {*fettle::dynamic_axis<double>::from(a), *fettle::dynamic_axis<double>::from(b),
       *fettle::dynamic_axis<double>::from(c)},
      values);
  for (const auto& row : reference::csv::read("cuboid_lookup.csv").rows) {
    const auto number = [&](const char* name) { return reference::csv::number(row, name); };
    EXPECT_NEAR(fettle::interpolate(map->view<3>(), number("a"), number("b"), number("c")), number("trilinear"),
                1e-12 * number("trilinear"));
  }
}

/// What a law is tested on: a map, a point, the corners around it.
template <class T, std::size_t R>
struct draw {
  fettle::dynamic_table<T> table = draws::table<T, R>();
  fettle::map_view<R, T> map = table.template view<R>();
  std::array<T, R> x = point();

  std::array<T, R> point() const {
    std::array<T, R> result;
    for (std::size_t i = 0; i < R; ++i) result[i] = draws::coordinate(table.axes()[i]);
    return result;
  }
  T value_at(const std::array<T, R>& at) const {
    return std::apply([&](auto... c) { return fettle::interpolate(map, c...); }, at);
  }
};

template <class T, std::size_t R>
void is_exact_at_every_breakpoint() {
  const draw<T, R> d;
  std::size_t cell = 0;
  std::array<T, R> node;
  for (std::size_t i = 0; i < R; ++i) {
    const auto& axis = d.table.axes()[i];
    const bool last = *rc::gen::inRange(0, 3) == 0;
    const std::size_t index = last ? axis.size() - 1 : *rc::gen::inRange<std::size_t>(0, axis.size());
    node[i] = axis.points()[index];
    cell = cell * axis.size() + index;
  }
  RC_ASSERT(d.value_at(node) == d.map.values[cell]);
  std::array<fettle::place<T>, R> hint{};
  RC_ASSERT(std::apply([&](auto... c) { return fettle::interpolate(d.map, hint, c...); }, node) == d.map.values[cell]);
}

template <class T, std::size_t R>
void stays_between_its_corners() {
  const draw<T, R> d;
  std::array<fettle::place<T>, R> at;
  for (std::size_t i = 0; i < R; ++i) at[i] = fettle::locate(d.map.axes[i], d.x[i]);
  const auto stencil = fettle::stencil_at(d.map.axes, at);
  T low = std::numeric_limits<T>::infinity(), high = -low;
  for (std::size_t k = 0; k < stencil.size; ++k) {
    if (stencil.weight[k] == T{0}) continue;
    low = std::min(low, d.map.values[stencil.cell[k]]);
    high = std::max(high, d.map.values[stencil.cell[k]]);
  }
  const T value = d.value_at(d.x);
  RC_ASSERT(value >= low && value <= high);
  RC_ASSERT(fettle::interpolate(d.map, at) == value);
  std::array<fettle::place<T>, R> hint{};
  for (std::size_t i = 0; i < R; ++i) hint[i].index = *rc::gen::inRange<std::size_t>(0, d.map.axes[i].size - 1);
  for (int twice = 0; twice < 2; ++twice)
    RC_ASSERT(std::apply([&](auto... c) { return fettle::interpolate(d.map, hint, c...); }, d.x) == value);
}

// A map is linear in its cells; between the two ways to sum them there is only rounding.
template <class T, std::size_t R>
void is_the_weighted_sum_of_its_cells() {
  const draw<T, R> d;
  std::array<fettle::place<T>, R> at;
  for (std::size_t i = 0; i < R; ++i) at[i] = fettle::locate(d.map.axes[i], d.x[i]);
  const auto stencil = fettle::stencil_at(d.map.axes, at);
  T sum = 0, weights = 0, largest = 0;
  for (std::size_t k = 0; k < stencil.size; ++k) {
    RC_ASSERT(stencil.weight[k] >= T{0} && stencil.weight[k] <= T{1});
    weights += stencil.weight[k];
    sum += stencil.weight[k] * d.map.values[stencil.cell[k]];
    largest = std::max(largest, std::abs(d.map.values[stencil.cell[k]]));
  }
  const T rounding = 64 * std::numeric_limits<T>::epsilon();
  RC_ASSERT(std::abs(weights - T{1}) <= rounding);
  RC_ASSERT(std::abs(sum - d.value_at(d.x)) <= rounding * largest);
}

/// Against the same formula in long double, whose rounding is 2^-11 of a double's.
template <class T, std::size_t R>
void rounds_within_its_bound() {
  const draw<T, R> d;
  const exact_look_up exact(d.map, d.x);
  RC_ASSERT(std::abs(static_cast<long double>(d.value_at(d.x)) - exact.value) <=
            20 * static_cast<long double>(R) * exact.ulp);
}

template <class T, std::size_t R>
void gives_a_constant_exactly() {
  draw<T, R> d;
  const T constant = draws::real<T>(-1000, 1000) / T{3};
  std::fill(d.table.values().begin(), d.table.values().end(), constant);
  RC_ASSERT(d.value_at(d.x) == constant);
}

template <class T, std::size_t R>
void is_monotone_along_an_edge_between_breakpoints() {
  draw<T, R> d;
  const std::size_t along = *rc::gen::inRange<std::size_t>(0, R);
  const auto& axis = d.table.axes()[along];
  for (std::size_t i = 0; i < R; ++i)  // the other coordinates on breakpoints: an edge
    if (i != along) d.x[i] = d.table.axes()[i].points()[*rc::gen::inRange<std::size_t>(0, d.table.axes()[i].size())];
  const std::size_t cell = *rc::gen::inRange<std::size_t>(0, axis.size() - 1);
  auto from = d.x, to = d.x, low = d.x, high = d.x;
  from[along] = axis.points()[cell];
  to[along] = axis.points()[cell + 1];
  T a = std::min(std::max(draws::coordinate(axis), from[along]), to[along]);
  T b = std::min(std::max(draws::coordinate(axis), from[along]), to[along]);
  if (b < a) std::swap(a, b);
  low[along] = a;
  high[along] = b;
  const T rise = d.value_at(to) - d.value_at(from), part = d.value_at(high) - d.value_at(low);
  RC_ASSERT((rise >= T{0} ? part >= T{0} : part <= T{0}));
}

template <class T, std::size_t R>
void gives_nan_for_nan_whatever_the_other_coordinates() {
  draw<T, R> d;
  d.x[*rc::gen::inRange<std::size_t>(0, R)] = std::numeric_limits<T>::quiet_NaN();
  RC_ASSERT(std::isnan(d.value_at(d.x)));
  std::array<fettle::place<T>, R> hint{};
  RC_ASSERT(std::isnan(std::apply([&](auto... c) { return fettle::interpolate(d.map, hint, c...); }, d.x)));
}

template <class T, std::size_t R>
void ignores_corners_of_no_weight() {
  draw<T, R> d;
  std::array<T, R> node;
  std::size_t cell = 0;
  for (std::size_t i = 0; i < R; ++i) {
    const auto& axis = d.table.axes()[i];
    const std::size_t index = *rc::gen::inRange<std::size_t>(0, axis.size());
    node[i] = axis.points()[index];
    cell = cell * axis.size() + index;
  }
  const T keep = d.table.values()[cell];
  std::fill(d.table.values().begin(), d.table.values().end(), std::numeric_limits<T>::quiet_NaN());
  d.table.values()[cell] = keep;
  RC_ASSERT(d.value_at(node) == keep);
}

template <class T>
struct InterpolateLaws : testing::Test {};
using scalars = testing::Types<float, double>;
TYPED_TEST_SUITE(InterpolateLaws, scalars);

#define FETTLE_LAW(name, law)                                      \
  TYPED_TEST(InterpolateLaws, name) {                              \
    EXPECT_TRUE(rc::check("rank 1", [] { law<TypeParam, 1>(); })); \
    EXPECT_TRUE(rc::check("rank 2", [] { law<TypeParam, 2>(); })); \
    EXPECT_TRUE(rc::check("rank 3", [] { law<TypeParam, 3>(); })); \
  }
FETTLE_LAW(IsExactAtEveryBreakpoint, is_exact_at_every_breakpoint)
FETTLE_LAW(StaysBetweenItsCornersWithAndWithoutHint, stays_between_its_corners)
FETTLE_LAW(IsTheWeightedSumOfItsCells, is_the_weighted_sum_of_its_cells)
FETTLE_LAW(RoundsWithinItsBound, rounds_within_its_bound)
FETTLE_LAW(GivesAConstantExactly, gives_a_constant_exactly)
FETTLE_LAW(IsMonotoneAlongAnEdge, is_monotone_along_an_edge_between_breakpoints)
FETTLE_LAW(GivesNaNForNaN, gives_nan_for_nan_whatever_the_other_coordinates)
FETTLE_LAW(IgnoresCornersOfNoWeight, ignores_corners_of_no_weight)

/// Cells narrower than their axes: a fraction next to 1 must not become 1 on the way.
RC_GTEST_PROP(Interpolate, OfFloatCellsOnDoubleAxesStaysBetweenItsCornersToo, ()) {
  const auto x_axis = draws::axis<double>(), y_axis = draws::axis<double>();
  std::vector<float> values(x_axis.size() * y_axis.size());
  for (float& v : values) v = draws::real(-1000.0F, 1000.0F) / 3;
  const fettle::map_view<2, double, float> map{.axes = {x_axis.view(), y_axis.view()}, .values = values.data()};
  const std::array at{fettle::locate(map.axes[0], draws::coordinate(x_axis)),
                      fettle::locate(map.axes[1], draws::coordinate(y_axis))};
  const auto stencil = fettle::stencil_at(map.axes, at);
  float low = std::numeric_limits<float>::infinity(), high = -low;
  for (std::size_t k = 0; k < stencil.size; ++k) {
    if (stencil.weight[k] == 0) continue;
    low = std::min(low, values[stencil.cell[k]]);
    high = std::max(high, values[stencil.cell[k]]);
  }
  const float value = fettle::interpolate(map, at);
  RC_ASSERT(value >= low && value <= high);
  RC_ASSERT(fettle::interpolate_with_slopes(map, at).value >= low);
  RC_ASSERT(fettle::interpolate_with_slopes(map, at).value <= high);
}

constexpr fettle::axis<double, 2> unit{{0, 1}};
constexpr std::array<float, 2> low_and_high{0.7F, 1.9F};
static_assert(fettle::interpolate(fettle::map_view<1, double, float>{.axes = {unit.view()},
                                                                     .values = low_and_high.data()},
                                  1 - 0x1p-40) == 1.9F);

constexpr fettle::axis<float, 3> speed_rpm{{1000, 3000, 9000}};
constexpr fettle::axis<float, 2> pressure_kpa{{40, 100}};
constexpr fettle::table mass_mg{speed_rpm, pressure_kpa, {4, 20, 5, 24, 6, 22}};
static_assert(fettle::interpolate(mass_mg, 3000, 100) == 24.0F);
static_assert(fettle::interpolate(mass_mg, 2000, 70) == 13.25F);
static_assert(fettle::interpolate(mass_mg, 1e9F, -1) == 6.0F);
static_assert(fettle::nearest(mass_mg.view(), 1900, 71) == 20.0F);
static_assert(fettle::nearest(mass_mg.view(), 2000, 69) == 5.0F);
static_assert(fettle::at_or_below(mass_mg.view(), 8999, 99) == 5.0F);
static_assert(std::is_trivially_copyable_v<decltype(mass_mg)>);
static_assert(mass_mg.axis_at<1>().points()[1] == 100.0F);

// One search for many maps: shared axes, one of them computed.
constexpr fettle::even_axis<float> throttle_pct{0, 50, 3};
constexpr fettle::cells<float, 3, 3> ve{{50, 60, 70, 60, 80, 90, 55, 85, 95}};
constexpr fettle::cells<float, 3, 3> spark_deg{{10, 12, 14, 20, 22, 24, 30, 32, 34}};
constexpr std::array at{fettle::locate(speed_rpm.view(), 3000.0F), fettle::locate(throttle_pct, 75.0F)};
static_assert(fettle::interpolate(ve, at) == 85.0F);
static_assert(fettle::interpolate(spark_deg, at) == 23.0F);
static_assert(fettle::interpolate_each(at, ve, spark_deg, ve) == std::array{85.0F, 23.0F, 85.0F});

TEST(Cells, ReadOverSharedStoredAxes) {
  constexpr fettle::cells<float, 3, 2> lambda{{1.0F, 0.9F, 1.0F, 0.88F, 0.98F, 0.86F}};
  const auto view = lambda.over(speed_rpm, pressure_kpa);
  EXPECT_EQ(fettle::interpolate(view, 3000.0F, 100.0F), 0.88F);
}

TEST(Cells, MayBeComplex) {
  const fettle::cells<std::complex<double>, 2> response{std::array<std::complex<double>, 2>{{{1, 0}, {0, 1}}}};
  const auto z = fettle::interpolate(response, std::array{fettle::place<double>{0, 0.25}});
  EXPECT_EQ(z, std::complex<double>(0.75, 0.25));
}

/// A value that is neither a number nor made of numbers the library knows.
struct opaque {
  double value = 0;
  friend opaque operator-(const opaque& a, const opaque& b) { return opaque{a.value - b.value}; }
  friend opaque operator+(const opaque& a, const opaque& b) { return opaque{a.value + b.value}; }
  friend opaque operator*(double t, const opaque& a) { return opaque{t * a.value}; }
};

TEST(Interpolate, IgnoresAnObjectOfNoWeight) {
  const double points[] = {0, 1, 2};
  std::array<opaque, 3> values{opaque{5}, opaque{std::nan("")}, opaque{std::nan("")}};
  const fettle::map_view<1, double, opaque> map{.axes = {{{points, 3}}}, .values = values.data()};
  EXPECT_EQ(fettle::interpolate(map, 0.0).value, 5);
  EXPECT_TRUE(std::isnan(fettle::interpolate(map, 1.0).value));
}

}  // namespace interpolate_test

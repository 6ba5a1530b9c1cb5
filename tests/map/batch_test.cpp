// SPDX-License-Identifier: MIT
#include "fettle/map/batch.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>
#include <limits>

#include "draws.hpp"
#include "fettle/map/axis.hpp"
#include "fettle/map/table.hpp"

namespace batch_test {

/// Equal but for the rounding that fused multiply-adds may save on one side.
template <class T>
bool same(T a, T b, T scale) {
  return (std::isnan(a) && std::isnan(b)) || std::abs(a - b) <= 4 * std::numeric_limits<T>::epsilon() * scale;
}

template <class T, std::size_t R>
struct batch {
  fettle::dynamic_table<T> table = draws::table<T, R>();
  fettle::map_view<R, T> map = table.template view<R>();
  std::array<std::vector<T>, R> x;
  std::array<const T*, R> columns{};
  T scale = 0;

  explicit batch(const std::array<std::size_t, R>& count) {
    for (const T v : table.values()) scale = std::max(scale, std::abs(v));
    const bool is_inside = *rc::gen::arbitrary<bool>();  // before the last breakpoints: all have an upper neighbour
    for (std::size_t i = 0; i < R; ++i) {
      const T before_last = std::nextafter(table.axes()[i].points().back(), std::numeric_limits<T>::lowest());
      for (std::size_t k = 0; k < count[i]; ++k) {
        const T drawn = draws::coordinate(table.axes()[i]);
        x[i].push_back(*rc::gen::inRange(0, 20) == 0 ? std::numeric_limits<T>::quiet_NaN()
                       : is_inside                   ? std::min(drawn, before_last)
                                                     : drawn);
      }
      columns[i] = x[i].data();
    }
  }
  T value(const std::array<std::size_t, R>& at) const {
    std::array<fettle::place<T>, R> places;
    for (std::size_t i = 0; i < R; ++i) places[i] = fettle::locate(map.axes[i], x[i][at[i]]);
    return fettle::interpolate(map, places);
  }
};

template <class T, std::size_t R>
void a_list_is_what_single_look_ups_give() {
  const auto count = *rc::gen::inRange<std::size_t>(0, 150);
  std::array<std::size_t, R> counts;
  counts.fill(count);
  const batch<T, R> b{counts};
  std::vector<T> out(count + 1, T{-7});
  fettle::interpolate_list(b.map, b.columns, count, out.data());
  for (std::size_t k = 0; k < count; ++k) {
    counts.fill(k);
    RC_ASSERT(same(out[k], b.value(counts), b.scale));
  }
  RC_ASSERT(out[count] == T{-7});
}

template <class T, std::size_t R>
void a_grid_is_what_single_look_ups_give() {
  std::array<std::size_t, R> counts, at{};
  std::size_t total = 1;
  for (auto& c : counts) c = *rc::gen::inRange<std::size_t>(0, 6);
  if (*rc::gen::inRange(0, 4) == 0) counts[R - 1] = 70;  // more than a block
  for (const auto c : counts) total *= c;
  const batch<T, R> b{counts};
  std::vector<T> out(total + 1, T{-7});
  fettle::interpolate_grid(b.map, b.columns, counts, out.data());
  for (std::size_t k = 0; k < total; ++k) {
    for (std::size_t axis = R, rest = k; axis-- > 0; rest /= counts[axis]) at[axis] = rest % counts[axis];
    RC_ASSERT(same(out[k], b.value(at), b.scale));
  }
  RC_ASSERT(out[total] == T{-7});
}

// Long enough to look at the cells first, with points on breakpoints whose neighbours are no numbers or too far off.
TEST(InterpolateList, LeavesOutCornersOfNoWeightWhateverTheyHold) {
  constexpr double huge = std::numeric_limits<double>::max(), infinite = std::numeric_limits<double>::infinity();
  const auto axis = *fettle::dynamic_axis<double>::from({0, 1, 2});
  const std::vector<double> x(256, 0.0), y(256, 1.0);
  for (const double odd : {std::nan(""), infinite, -infinite, huge}) {
    const auto map = *fettle::dynamic_table<double>::from({axis, axis}, {1, -huge, odd, 4, odd, odd, 7, 8, odd});
    std::vector<double> out(256);
    fettle::interpolate_list(map.view<2>(), {x.data(), y.data()}, 256, out.data());
    for (const double value : out) EXPECT_EQ(value, -huge) << odd;
    fettle::interpolate_list(map.view<2>(), {x.data(), x.data()}, 256, out.data());
    for (const double value : out) EXPECT_EQ(value, 1) << odd;
  }
}

TEST(InterpolateList, IsExactAtTheLastBreakpointAmongOthers) {
  const auto axis = *fettle::dynamic_axis<double>::from({0, 0.1, 0.3});
  const auto map = *fettle::dynamic_table<double>::from({axis}, {1, 2, 1e-9});
  std::vector<double> x(128, 0.05), out(128);
  x[3] = 0.3;
  x[70] = 99;
  fettle::interpolate_list(map.view<1>(), {x.data()}, 128, out.data());
  for (std::size_t i = 0; i < 128; ++i) EXPECT_EQ(out[i], i == 3 || i == 70 ? 1e-9 : 1.5);
}

template <class T>
struct BatchLaws : testing::Test {};
using scalars = testing::Types<float, double>;
TYPED_TEST_SUITE(BatchLaws, scalars);
TYPED_TEST(BatchLaws, AListIsWhatSingleLookUpsGive) {
  EXPECT_TRUE(rc::check("rank 1", [] { a_list_is_what_single_look_ups_give<TypeParam, 1>(); }));
  EXPECT_TRUE(rc::check("rank 2", [] { a_list_is_what_single_look_ups_give<TypeParam, 2>(); }));
  EXPECT_TRUE(rc::check("rank 3", [] { a_list_is_what_single_look_ups_give<TypeParam, 3>(); }));
}
TYPED_TEST(BatchLaws, AGridIsWhatSingleLookUpsGive) {
  EXPECT_TRUE(rc::check("rank 1", [] { a_grid_is_what_single_look_ups_give<TypeParam, 1>(); }));
  EXPECT_TRUE(rc::check("rank 2", [] { a_grid_is_what_single_look_ups_give<TypeParam, 2>(); }));
  EXPECT_TRUE(rc::check("rank 3", [] { a_grid_is_what_single_look_ups_give<TypeParam, 3>(); }));
}

constexpr bool works_in_constant_expressions() {
  constexpr fettle::axis<double, 3> x{{0, 1, 3}};
  constexpr fettle::table curve{x, {10, 20, 60}};
  const double points[] = {-1, 0.5, 2, 9};
  double out[4] = {};
  fettle::interpolate_list(curve.view(), {points}, 4, out);
  return out[0] == 10 && out[1] == 15 && out[2] == 40 && out[3] == 60;
}
static_assert(works_in_constant_expressions());

}  // namespace batch_test

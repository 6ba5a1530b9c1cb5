// SPDX-License-Identifier: MIT
#include "fettle/map/batch.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>
#include <limits>

#include "draws.hpp"
#include "fettle/map/axis.hpp"
#include "fettle/map/table.hpp"

namespace {

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
    for (std::size_t i = 0; i < R; ++i) {
      for (std::size_t k = 0; k < count[i]; ++k)
        x[i].push_back(*rc::gen::inRange(0, 20) == 0 ? std::numeric_limits<T>::quiet_NaN()
                                                     : draws::coordinate(table.axes()[i]));
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

}  // namespace

// SPDX-License-Identifier: MIT
#include "fettle/fuel/plan.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

#include "draws.hpp"

namespace plan_test {

using fettle::plan_status;
using fettle::unmet_cell;

/// A demand map, limits and the buffers of a plan, of any shape.
template <class T>
struct drawn_plan {
  std::vector<T> speed_rpm, throttle_pct, demand_mg, guard_rpm, guard_pct;
  std::vector<T> share, primary_duty, secondary_duty, margin_ms;
  std::vector<unmet_cell> unmet;
  fettle::staging_limits<T> limits;

  drawn_plan(std::vector<T> speeds, std::vector<T> throttles)
      : speed_rpm{std::move(speeds)},
        throttle_pct{std::move(throttles)},
        demand_mg(speed_rpm.size() * throttle_pct.size()) {
    for (auto* buffer : {&share, &primary_duty, &secondary_duty, &margin_ms}) buffer->assign(demand_mg.size(), T(-7));
    unmet.assign(demand_mg.size(), unmet_cell::none);
  }

  [[nodiscard]] fettle::map_view<2, T> map(const std::vector<T>& cells) const {
    return {{{{speed_rpm.data(), speed_rpm.size()}, {throttle_pct.data(), throttle_pct.size()}}}, cells.data()};
  }
  [[nodiscard]] fettle::plan_result make() {
    limits.throttle_guard = {{{{guard_rpm.data(), guard_rpm.size()}}}, guard_pct.data()};
    return fettle::plan_share<T>(
        map(demand_mg), limits,
        {share.data(), primary_duty.data(), secondary_duty.data(), margin_ms.data(), unmet.data()});
  }
  [[nodiscard]] T smallest_share(std::size_t cell) const {
    return limits.secondary.flow_mg_per_ms * limits.secondary.smallest_open_ms / demand_mg[cell];
  }
};

template <class T>
[[nodiscard]] std::vector<T> rising(std::size_t size, double first, double last) {
  std::vector<T> result{static_cast<T>(first)};
  while (result.size() < size) {
    result.push_back(result.back() + draws::between<T>(0.3, 1.7) * static_cast<T>((last - first) / double(size - 1)));
  }
  return result;
}

template <class T>
[[nodiscard]] drawn_plan<T> any_plan() {
  const auto rows = *rc::gen::inRange<std::size_t>(2, 9), columns = *rc::gen::inRange<std::size_t>(2, 9);
  drawn_plan<T> plan{rising<T>(rows, 800, 12000), rising<T>(columns, 0, 100)};
  const T most_mg = draws::between<T>(10, 70), roughness = draws::between<T>(0, 0.4);
  for (std::size_t i = 0; i < plan.demand_mg.size(); ++i) {
    const T opening = plan.throttle_pct[i % columns] / 100;
    plan.demand_mg[i] = most_mg * (opening + T(0.1)) * (1 + roughness * draws::between<T>(-1, 1));
  }
  plan.guard_rpm = {1000, 5000, 11000};
  plan.guard_pct = {draws::between<T>(-5, 20), 0, 0};
  plan.guard_pct[1] = plan.guard_pct[0] + draws::between<T>(0, 20);
  plan.guard_pct[2] = plan.guard_pct[1] + draws::between<T>(0, 30);
  plan.limits = {.primary = draws::line<T>(),
                 .secondary = draws::line<T>(),
                 .largest_duty = draws::between<T>(0.7, 0.95),
                 .primary_reserve = draws::between<T>(0, 0.15),
                 .steepest_per_rpm = draws::between<T>(0.00005, 0.001),
                 .steepest_per_throttle = draws::between<T>(0.002, 0.1),
                 .wanted_share = *rc::gen::element(T{0}, draws::between<T>(0, 1))};
  return plan;
}

template <class T>
constexpr T rounding = 64 * std::numeric_limits<T>::epsilon();

template <class T>
void shares_are_zero_or_enough() {
  auto plan = any_plan<T>();
  RC_ASSERT(plan.make().status == plan_status::made);
  for (std::size_t i = 0; i < plan.share.size(); ++i) {
    RC_ASSERT(plan.share[i] >= 0 && plan.share[i] <= 1);
    if (plan.share[i] > 0) RC_ASSERT(plan.share[i] >= plan.smallest_share(i) * (1 - rounding<T>));
  }
}
RC_GTEST_PROP(Plan, SharesAreZeroOrEnoughForThePulseInDouble, ()) {
  shares_are_zero_or_enough<double>();
}
RC_GTEST_PROP(Plan, SharesAreZeroOrEnoughForThePulseInFloat, ()) {
  shares_are_zero_or_enough<float>();
}

template <class T>
void guard_is_kept_between_crossings() {
  auto plan = any_plan<T>();
  RC_ASSERT(plan.make().status == plan_status::made);
  for (int k = 0; k < 200; ++k) {
    const T rpm = draws::between<T>(0, 15000);
    const T guard = fettle::interpolate(plan.limits.throttle_guard, rpm);
    if (!(guard > plan.throttle_pct.front())) continue;  // guards nothing
    const T below = guard - draws::between<T>(0.001, 40);
    RC_ASSERT(fettle::interpolate(plan.map(plan.share), rpm, below) == 0);
  }
}
RC_GTEST_PROP(Plan, ShareIsZeroEverywhereBelowTheGuardInDouble, ()) {
  guard_is_kept_between_crossings<double>();
}
RC_GTEST_PROP(Plan, ShareIsZeroEverywhereBelowTheGuardInFloat, ()) {
  guard_is_kept_between_crossings<float>();
}

template <class T>
void met_cells_keep_their_duties() {
  auto plan = any_plan<T>();
  const auto result = plan.make();
  RC_ASSERT(result.status == plan_status::made);
  std::size_t unmet = 0;
  for (std::size_t i = 0; i < plan.share.size(); ++i) {
    const T cycle_ms = fettle::cycle_ms(plan.speed_rpm[i / plan.throttle_pct.size()]);
    RC_ASSERT(plan.secondary_duty[i] <= plan.limits.largest_duty * (1 + rounding<T>));
    RC_ASSERT(std::abs(plan.primary_duty[i] * cycle_ms -
                       fettle::pulse_ms(plan.limits.primary, plan.demand_mg[i] * (1 - plan.share[i]))) <=
              rounding<T> * 100);
    const T most = plan.limits.largest_duty - plan.limits.primary_reserve;
    if (plan.unmet[i] == unmet_cell::none) {
      RC_ASSERT(plan.primary_duty[i] <= most + 2 * rounding<T>);
      // What is planned can be driven: the split of the same injectors gives exactly this.
      const auto split =
          fettle::split(plan.demand_mg[i], plan.share[i], {plan.limits.primary, plan.limits.secondary},
                        {.cycle_ms = cycle_ms, .largest_duty = plan.limits.largest_duty}, fettle::bank_mode::none);
      RC_ASSERT(std::abs(split.shortfall_mg) <= rounding<T> * plan.demand_mg[i]);
      RC_ASSERT(std::abs(split.secondary_mg - plan.share[i] * plan.demand_mg[i]) <= rounding<T> * plan.demand_mg[i]);
      RC_ASSERT(plan.margin_ms[i] >= -rounding<T> * cycle_ms);
    } else {
      ++unmet;
      // Named only for a reason: too little fuel for the primary, or a primary that is not relieved as it should be.
      RC_ASSERT(plan.primary_duty[i] > most * (1 - rounding<T>) || plan.unmet[i] == unmet_cell::primary_smallest_pulse);
    }
  }
  RC_ASSERT(unmet == result.unmet_cells);
}
RC_GTEST_PROP(Plan, MetCellsKeepTheirDutiesInDouble, ()) {
  met_cells_keep_their_duties<double>();
}
RC_GTEST_PROP(Plan, MetCellsKeepTheirDutiesInFloat, ()) {
  met_cells_keep_their_duties<float>();
}

template <class T>
void steepness_is_bounded() {
  auto plan = any_plan<T>();
  RC_ASSERT(plan.make().status == plan_status::made);
  const std::size_t columns = plan.throttle_pct.size();
  const auto check = [&](std::size_t a, std::size_t b, T step) {
    const T low = std::min(plan.share[a], plan.share[b]), high = std::max(plan.share[a], plan.share[b]);
    const std::size_t upper = plan.share[a] > plan.share[b] ? a : b;
    const T allowed = low == 0 ? std::max(step, plan.smallest_share(upper)) : step;
    RC_ASSERT(high - low <= allowed + rounding<T>);
  };
  for (std::size_t i = 0; i < plan.share.size(); ++i) {
    const std::size_t row = i / columns, column = i % columns;
    if (row > 0) check(i, i - columns, plan.limits.steepest_per_rpm * (plan.speed_rpm[row] - plan.speed_rpm[row - 1]));
    if (column > 0) {
      check(i, i - 1, plan.limits.steepest_per_throttle * (plan.throttle_pct[column] - plan.throttle_pct[column - 1]));
    }
  }
}
RC_GTEST_PROP(Plan, SteepnessIsBoundedAlongBothAxesInDouble, ()) {
  steepness_is_bounded<double>();
}
RC_GTEST_PROP(Plan, SteepnessIsBoundedAlongBothAxesInFloat, ()) {
  steepness_is_bounded<float>();
}

/// Four speeds, five throttles, two equal banks of 3 mg/ms: a plan one can follow by hand.
[[nodiscard]] drawn_plan<double> by_hand() {
  drawn_plan<double> plan{{2000, 4000, 6000, 8000}, {0, 10, 20, 50, 100}};
  for (std::size_t i = 0; i < plan.demand_mg.size(); ++i) plan.demand_mg[i] = 4 + 0.36 * plan.throttle_pct[i % 5];
  plan.guard_rpm = {2000, 8000};
  plan.guard_pct = {10, 20};
  plan.limits = {.primary = {3, 1, 0.5},
                 .secondary = {3, 1, 0.5},
                 .largest_duty = 0.85,
                 .primary_reserve = 0.05,
                 .steepest_per_rpm = 1,
                 .steepest_per_throttle = 1,
                 .wanted_share = 0};
  return plan;
}

TEST(Plan, UsesTheSecondaryOnlyWhereItIsNeededWhenNoShareIsWanted) {
  auto plan = by_hand();
  const auto result = plan.make();
  EXPECT_EQ(result.status, plan_status::made);
  EXPECT_EQ(result.unmet_cells, 0U);
  // 8000 rpm last 15 ms; 80 % less 1 ms dead time at 3 mg/ms are 33 mg, and full throttle asks 40.
  for (std::size_t i = 0; i + 1 < plan.share.size(); ++i) EXPECT_EQ(plan.share[i], 0) << i;
  EXPECT_NEAR(plan.share.back(), 7.0 / 40, 1e-14);
  EXPECT_NEAR(plan.primary_duty.back(), 0.80, 1e-14);
  EXPECT_NEAR(plan.secondary_duty.back(), (1 + 7.0 / 3) / 15, 1e-14);
  EXPECT_NEAR(plan.margin_ms.back(), 7.0 / 3 - 0.5, 1e-13);
}

// 40 mg at 8000 rpm need a share of 7/40 at one throttle; towards it the shares rise by no more than is allowed.
TEST(Plan, RisesTowardsANeedFromAllSides) {
  for (const std::size_t needy : {0U, 2U, 4U}) {
    auto plan = by_hand();
    plan.speed_rpm = {2000, 5000, 7000, 8000};
    plan.throttle_pct = {0, 10, 20, 30, 40};
    for (double& mg : plan.demand_mg) mg = 25;
    plan.demand_mg[15 + needy] = 40;
    plan.guard_pct = {-5, -5};
    plan.limits.secondary.smallest_open_ms = 0.01;  // 0.03 of 25 mg: small enough for every step below
    plan.limits.steepest_per_rpm = 0.00002;
    plan.limits.steepest_per_throttle = 0.005;
    EXPECT_EQ(plan.make().unmet_cells, 0U);
    for (std::size_t row = 0; row < 4; ++row) {
      for (std::size_t column = 0; column < 5; ++column) {
        const double away = 0.00002 * (8000 - plan.speed_rpm[row]) +
                            0.05 * std::abs(static_cast<double>(column) - static_cast<double>(needy));
        EXPECT_NEAR(plan.share[5 * row + column], std::max(0.0, 7.0 / 40 - away), 1e-14) << row << ' ' << column;
      }
    }
  }
}

// However gently shares have to rise: between nothing and the smallest pulse, 3 of 25 mg, there is nothing.
TEST(Plan, BeginsWithTheSmallestPulse) {
  auto plan = by_hand();
  plan.throttle_pct = {0, 10, 20, 30, 40};
  for (double& mg : plan.demand_mg) mg = 25;
  plan.guard_pct = {15, 15};
  plan.limits.secondary.smallest_open_ms = 1;
  plan.limits.steepest_per_throttle = 0.005;
  plan.limits.wanted_share = 0.3;
  EXPECT_EQ(plan.make().unmet_cells, 0U);
  for (std::size_t row = 0; row < 4; ++row) {
    for (const std::size_t guarded : {0U, 1U, 2U}) EXPECT_EQ(plan.share[5 * row + guarded], 0);
    EXPECT_NEAR(plan.share[5 * row + 3], 0.12, 1e-14);
    EXPECT_NEAR(plan.share[5 * row + 4], 0.17, 1e-14);
  }
}

TEST(Plan, RaisesAWantedShareToTheSmallestPulse) {
  auto plan = by_hand();
  plan.limits.wanted_share = 0.01;
  EXPECT_EQ(plan.make().unmet_cells, 0U);
  EXPECT_NEAR(plan.share[18], 1.5 / 22, 1e-14);  // 8000 rpm, 50 %: 22 mg, of which 1.5 are the least
  EXPECT_NEAR(plan.margin_ms[18], 0, 1e-13);
}

TEST(Plan, ShutsTheSecondaryBelowItsSlowestSpeedBetweenCrossingsToo) {
  auto plan = by_hand();
  plan.limits.wanted_share = 0.5;
  plan.limits.slowest_rpm = 4500;
  EXPECT_EQ(plan.make().status, plan_status::made);
  for (const double rpm : {2000.0, 4000.0, 4499.0, 5900.0})
    EXPECT_EQ(fettle::interpolate(plan.map(plan.share), rpm, 100.0), 0) << rpm;  // up to the crossing above 4500
  EXPECT_NEAR(plan.share.back(), 0.5, 1e-14);
  plan.limits.slowest_rpm = 9000;
  EXPECT_EQ(plan.make().unmet_cells, 1U);
  EXPECT_EQ(plan.unmet.back(), unmet_cell::throttle_guard);
  EXPECT_EQ(plan.share.back(), 0);
  plan.limits.slowest_rpm = std::nan("");
  EXPECT_EQ(plan.make().status, plan_status::guard_unusable);
}

TEST(Plan, NamesWhatCannotBeMet) {
  auto plan = by_hand();
  plan.demand_mg[19] = 70;  // 8000 rpm, full throttle: 33 + 35.25 mg are the most
  plan.demand_mg[16] = 36;  // 8000 rpm, 10 %: below the guard
  plan.demand_mg[0] = 1;    // less than 1.5 mg
  plan.demand_mg[1] = -3;
  plan.demand_mg[2] = std::nan("");
  EXPECT_EQ(plan.make().unmet_cells, 5U);
  EXPECT_EQ(plan.unmet[19], unmet_cell::capacity);
  EXPECT_EQ(plan.unmet[16], unmet_cell::throttle_guard);
  EXPECT_EQ(plan.unmet[0], unmet_cell::primary_smallest_pulse);
  EXPECT_EQ(plan.unmet[1], unmet_cell::demand_unusable);
  EXPECT_EQ(plan.unmet[2], unmet_cell::demand_unusable);

  auto coarse = by_hand();
  coarse.limits.secondary.smallest_open_ms = 11.5;  // 34.5 mg at least, and the primary's 1.5, are more than 35
  coarse.demand_mg[19] = 35;
  EXPECT_EQ(coarse.make().unmet_cells, 1U);
  EXPECT_EQ(coarse.unmet[19], unmet_cell::secondary_smallest_pulse);

  auto steep = by_hand();
  steep.limits.steepest_per_throttle = 0.001;  // 5 % over 50 % of throttle
  steep.limits.steepest_per_rpm = 0.00001;
  steep.guard_pct = {60, 60};
  EXPECT_EQ(steep.make().unmet_cells, 1U);
  EXPECT_EQ(steep.unmet[19], unmet_cell::throttle_guard);  // 50 % is below 60 %, so the last cell is guarded whole
  steep.guard_pct = {50, 50};
  EXPECT_EQ(steep.make().unmet_cells, 1U);
  EXPECT_EQ(steep.unmet[19], unmet_cell::steepness);
}

TEST(Plan, RefusesUnusableLimitsAndWritesNothing) {
  const double nan = std::nan("");
  const auto expect = [](plan_status status, auto&& spoil) {
    auto plan = by_hand();
    spoil(plan);
    EXPECT_EQ(plan.make().status, status);
    EXPECT_EQ(plan.share[0], -7);
  };
  expect(plan_status::axes_unusable, [&](auto& plan) { plan.speed_rpm[1] = 1000; });
  expect(plan_status::axes_unusable, [&](auto& plan) { plan.speed_rpm[0] = 0; });
  expect(plan_status::axes_unusable, [&](auto& plan) { plan.throttle_pct[1] = nan; });
  expect(plan_status::injectors_unusable, [&](auto& plan) { plan.limits.primary.flow_mg_per_ms = 0; });
  expect(plan_status::injectors_unusable, [&](auto& plan) { plan.limits.secondary.dead_time_ms = nan; });
  for (const double duty : {1.2, 0.0, nan})
    expect(plan_status::duty_unusable, [&](auto& plan) { plan.limits.largest_duty = duty; });
  expect(plan_status::duty_unusable, [&](auto& plan) { plan.limits.primary_reserve = 0.9; });
  expect(plan_status::guard_unusable, [&](auto& plan) { plan.guard_pct = {20, 10}; });
  expect(plan_status::guard_unusable, [&](auto& plan) { plan.guard_pct = {20, nan}; });
  expect(plan_status::guard_unusable, [&](auto& plan) { plan.guard_pct = {nan, 20}; });
  expect(plan_status::steepness_unusable, [&](auto& plan) { plan.limits.steepest_per_rpm = 0; });
  expect(plan_status::share_unusable, [&](auto& plan) { plan.limits.wanted_share = nan; });
}

}  // namespace plan_test

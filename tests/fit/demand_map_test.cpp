// SPDX-License-Identifier: MIT
#include "fettle/fit/demand_map.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

namespace demand_map_test {

using axis = fettle::dynamic_axis<double>;
using table = fettle::dynamic_table<double>;

/// Torque that comes early in the throttle's travel, more so at low speed, as with a throttle per cylinder.
table torque_map() {
  std::vector<double> speeds{1500, 3000, 6000, 9000}, throttles, values;
  for (int i = 0; i <= 20; ++i) throttles.push_back(5 * i);
  for (const double rpm : speeds)
    for (const double pct : throttles) values.push_back(-20 - rpm / 300 + 280 * (1 - std::exp(-pct * 300 / rpm)));
  return *table::from({*axis::from(speeds), *axis::from(throttles)}, values);
}

double share(const table& torque, double rpm, double throttle) {
  const auto at = [&](double pct) { return fettle::interpolate(torque.view<2>(), rpm, pct); };
  return (at(throttle) - at(0)) / (at(100) - at(0));
}

TEST(DemandMap, MakesTorqueFollowThePedal) {
  const fettle::pedal_curve curve{{0, 10, 20, 40, 60, 80, 100}, {0, 0.05, 0.12, 0.3, 0.52, 0.75, 1}};
  const table torque = torque_map();
  const auto made = fettle::make_demand_map(torque, *axis::from(curve.pedal_pct), curve);
  for (const double rpm : torque.axes()[0].points())
    for (std::size_t k = 0; k < curve.pedal_pct.size(); ++k) {
      const double throttle = fettle::interpolate(made.throttle_pct.view<2>(), rpm, curve.pedal_pct[k]);
      EXPECT_NEAR(share(torque, rpm, throttle), curve.torque_share[k], 1e-9);
    }
  EXPECT_LT(made.excess_share, 1e-12);  // nothing but rounding without a limit
  for (const fettle::pedal_rates rates : {fettle::pedal_rates{.actuator_pct_per_s = 1e-3}, {.pedal_pct_per_s = 1e3}}) {
    const auto same = fettle::make_demand_map(torque, *axis::from(curve.pedal_pct), curve, rates);
    EXPECT_EQ(same.steepest, made.steepest);  // one rate alone limits nothing
  }
  std::vector<double> fine;
  for (int i = 0; i <= 50; ++i) fine.push_back(2 * i);
  EXPECT_LT(fettle::make_demand_map(torque, *axis::from(fine), curve).between_share, made.between_share / 2);
}

// One to one, a touch of the pedal at 1500 rpm gives most of the torque: why a pedal map is needed.
TEST(DemandMap, TakesTheGainOutOfTheFirstPartOfTheTravel) {
  const table torque = torque_map();
  EXPECT_GT(share(torque, 1500, 10), 0.8);
  const auto made = fettle::make_demand_map(torque, *axis::from({0, 5, 10, 20, 30, 40, 50, 60, 70, 80, 90, 100}));
  EXPECT_LT(fettle::interpolate(made.throttle_pct.view<2>(), 1500.0, 50.0), 5);
}

RC_GTEST_PROP(DemandMap, RespectsTheActuatorAndSaysWhatItCosts, ()) {
  const double actuator = *rc::gen::inRange(250, 2000), pedal = 200, power = 1 + 0.1 * *rc::gen::inRange(0, 11);
  std::vector<double> positions;
  for (int i = 0; i <= 20; ++i) positions.push_back(5 * i);
  fettle::pedal_curve curve{positions, {}};
  for (const double x : positions) curve.torque_share.push_back(std::pow(x / 100, power));
  const table torque = torque_map();
  const auto made = fettle::make_demand_map(torque, *axis::from(positions), curve, {actuator, pedal});
  RC_ASSERT(made.steepest <= actuator / pedal * (1 + 1e-12));
  const auto free = fettle::make_demand_map(torque, *axis::from(curve.pedal_pct), curve);
  double steepest = 0;
  for (const double rpm : torque.axes()[0].points()) {
    const auto at = [&](const table& map, double x) { return fettle::interpolate(map.view<2>(), rpm, x); };
    RC_ASSERT(at(made.throttle_pct, 0) == at(free.throttle_pct, 0));
    for (const double x : positions) {
      if (x > 0) steepest = std::max(steepest, (at(made.throttle_pct, x) - at(made.throttle_pct, x - 5)) / 5);
      const double off =
          share(torque, rpm, at(made.throttle_pct, x)) -
          fettle::interpolate(
              fettle::map_view<1, double>{{{{positions.data(), positions.size()}}}, curve.torque_share.data()}, x);
      RC_ASSERT(off <= made.excess_share + 1e-12);
      RC_ASSERT(-off <= made.missing_share + 1e-12);
    }
  }
  RC_ASSERT(std::abs(made.steepest - steepest) < 1e-12);
}

// At low speed the last of the torque takes most of the throttle's travel: giving up 2 % of it costs less than opening
// early.
TEST(DemandMap, GivesUpALittleTorqueWhereTheActuatorIsSlow) {
  std::vector<double> positions;
  for (int i = 0; i <= 20; ++i) positions.push_back(5 * i);
  const auto made = fettle::make_demand_map(torque_map(), *axis::from(positions), {}, {800, 250});
  EXPECT_LT(made.missing_share, 0.08);
  EXPECT_LT(made.excess_share, 0.08);
}

std::string refusal(const table& torque, const fettle::pedal_curve& curve, const fettle::pedal_rates& rates = {}) {
  try {
    static_cast<void>(fettle::make_demand_map(torque, *axis::from({0, 50, 100}), curve, rates));
  } catch (const fettle::error& problem) {
    return problem.what();
  }
  return "";
}

TEST(DemandMap, SaysWhatIsWrong) {
  const table torque = torque_map();
  const auto has = [](const std::string& text, const char* part) { return text.find(part) != std::string::npos; };
  EXPECT_TRUE(has(refusal(torque, {{0, 50, 100}, {0, 0.6, 0.5}}), "torque share 0.5"));
  EXPECT_TRUE(has(refusal(torque, {{0, 100}, {0}}), "1 torque shares for 2 pedal positions"));
  EXPECT_TRUE(has(refusal(torque, {{100, 0}, {0, 1}}), "each above the one before"));
  EXPECT_TRUE(has(refusal(torque, {}, {-1, 200}), "negative"));
  const table idle = *table::from({*axis::from({1000, 2000}), *axis::from({0, 100})}, {0, 5, 3, 3});
  EXPECT_TRUE(has(refusal(idle, {}), "does not rise with the throttle at cell (2000"));
}

}  // namespace demand_map_test

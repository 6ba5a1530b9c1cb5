// SPDX-License-Identifier: MIT
#include "fettle/lambda/screening.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <functional>
#include <vector>

namespace screening_test {

using fettle::rejection;

/// A warm engine at one point on a map of 0..10, ten seconds at 10 Hz; `change` spoils it.
fettle::recording plain_log(const std::function<void(fettle::recording&)>& change = [](auto&) {}) {
  fettle::recording log{.name = "plain",
                        .cylinders = 5,
                        .time_s = {},
                        .at = {{}},
                        .speed_rpm = {},
                        .need_mg = {},
                        .fuel_mg = {{}},
                        .target_lambda = {},
                        .sensors = {{.name = "one"}}};
  for (int i = 0; i < 100; ++i) {
    log.time_s.push_back(0.1 * i);
    log.at[0].push_back(5);
    log.speed_rpm.push_back(3000);
    log.need_mg.push_back(20);
    log.fuel_mg[0].push_back(20);
    log.target_lambda.push_back(1);
    log.throttle_pct.push_back(30);
    log.coolant_degc.push_back(85);
    log.fuel_cut.push_back(0);
    log.sensors[0].lambda.push_back(1 + 0.001 * (i % 3));
  }
  change(log);
  return log;
}

std::vector<rejection> screened(const fettle::recording& log, const fettle::screening& limits = {}) {
  const std::vector<fettle::dynamic_axis<double>> axes{*fettle::dynamic_axis<double>::from({0, 10})};
  std::vector<fettle::moment> from(log.rows());
  for (std::size_t i = 0; i < from.size(); ++i) from[i] = {i, 0};
  return fettle::detail::screen_sensor(log, log.sensors[0], fettle::detail::screen_rows(log, axes, limits), from,
                                       limits);
}

TEST(Screening, CountsEveryReadingOfAPlainLog) {
  for (const auto why : screened(plain_log())) EXPECT_EQ(why, rejection::none);
}

TEST(Screening, GivesEachReadingItsReason) {
  const auto log = plain_log([](auto& l) {
    l.sensors[0].lambda[1] = std::nan("");
    l.sensors[0].lambda[2] = 1.7;
    l.sensors[0].lambda[3] = 0.5;
    l.fuel_cut[4] = 1;
    l.fuel_mg[0][5] = 0;
    l.coolant_degc[6] = 20;
    l.at[0][7] = 11;
    l.need_mg[8] = std::nan("");
    l.target_lambda[9] = 0;
  });
  const auto why = screened(log);
  EXPECT_EQ(why[1], rejection::not_sampled);
  EXPECT_EQ(why[2], rejection::sensor_at_its_end);
  EXPECT_EQ(why[3], rejection::sensor_at_its_end);
  EXPECT_EQ(why[4], rejection::fuel_cut);
  EXPECT_EQ(why[5], rejection::fuel_cut);
  EXPECT_EQ(why[6], rejection::warm_up);
  EXPECT_EQ(why[7], rejection::outside_the_map);
  EXPECT_EQ(why[8], rejection::missing_input);
  EXPECT_EQ(why[9], rejection::missing_input);
  EXPECT_EQ(why[10], rejection::none);
}

TEST(Screening, TakesACutThatIsNotLoggedYetForNone) {
  const auto log = plain_log([](auto& l) {
    for (std::size_t i = 0; i < 5; ++i) l.fuel_cut[i] = std::nan("");
    l.fuel_mg[0][2] = 0;
  });
  const auto why = screened(log);
  EXPECT_EQ(why[1], rejection::none);
  EXPECT_EQ(why[2], rejection::fuel_cut);
}

TEST(Screening, NamesTheMissingInputBeforeTheGasThatCannotBeFollowedWithoutIt) {
  auto log = plain_log([](auto& l) { l.speed_rpm[1] = std::nan(""); });
  const std::vector<fettle::moment> nowhere(log.rows(), {0, std::nan("")});
  const auto rows = fettle::detail::screen_rows(log, {*fettle::dynamic_axis<double>::from({0, 10})}, {});
  const auto why = fettle::detail::screen_sensor(log, log.sensors[0], rows, nowhere, {});
  EXPECT_EQ(why[1], rejection::missing_input);
  EXPECT_EQ(why[2], rejection::before_the_log);
}

TEST(Screening, WaitsAfterACutAndAfterAQuickFoot) {
  const auto log = plain_log([](auto& l) {
    l.fuel_cut[20] = 1;
    for (std::size_t i = 60; i < 100; ++i) l.throttle_pct[i] = 60;
  });
  const auto why = screened(log, {.after_cut_s = 0.55, .fastest_throttle_pct_s = 50, .after_transient_s = 0.35});
  EXPECT_EQ(why[25], rejection::after_fuel_cut);
  EXPECT_EQ(why[26], rejection::none);
  EXPECT_EQ(why[60], rejection::transient);
  EXPECT_EQ(why[63], rejection::transient);
  EXPECT_EQ(why[64], rejection::none);
}

TEST(Screening, CountsNoReadingOfUnburntChargesNorWhileTheirOxygenPasses) {
  const auto log = plain_log([](auto& l) {
    l.unburnt.assign(l.rows(), 0.0);
    l.unburnt[20] = 2;
    l.unburnt[40] = std::nan("");
  });
  const auto why = screened(log, {.after_unburnt_s = 0.25});
  EXPECT_EQ(why[19], rejection::none);
  EXPECT_EQ(why[20], rejection::unburnt);
  EXPECT_EQ(why[22], rejection::unburnt);
  EXPECT_EQ(why[23], rejection::none);
  EXPECT_EQ(why[40], rejection::none);
}

TEST(Screening, NoticesASensorStuckWhileTheFuelChanges) {
  const auto log = plain_log([](auto& l) {
    for (std::size_t i = 30; i < 80; ++i) {
      l.sensors[0].lambda[i] = 0.97;
      l.fuel_mg[0][i] = i < 50 ? 20 : 30;
    }
  });
  const auto why = screened(log);
  EXPECT_EQ(why[29], rejection::none);
  EXPECT_EQ(why[40], rejection::stuck);
  EXPECT_EQ(why[79], rejection::stuck);
  EXPECT_EQ(why[80], rejection::none);
}

TEST(Screening, LetsASteadyCoarseSensorStandStill) {
  const auto log = plain_log([](auto& l) {
    for (auto& lambda : l.sensors[0].lambda) lambda = 0.97;
  });
  for (const auto why : screened(log)) EXPECT_EQ(why, rejection::none);
}

TEST(Screening, NoticesASensorClippedInsideItsRange) {
  const auto log = plain_log([](auto& l) {
    for (std::size_t i = 0; i < 25; ++i) l.sensors[0].lambda[i] = 1.3;
  });
  const auto why = screened(log);
  EXPECT_EQ(why[0], rejection::sensor_at_its_end);
  EXPECT_EQ(why[30], rejection::none);
}

TEST(Screening, CallsALongStayAtTheLeanEndByItsName) {
  const auto log = plain_log([](auto& l) {
    for (std::size_t i = 0; i < l.rows(); ++i) {
      l.time_s[i] = static_cast<double>(i);
      if (i >= 10) l.sensors[0].lambda[i] = 1.6;
      l.fuel_mg[0][i] = i < 50 ? 20 : 60;
    }
  });
  const auto why = screened(log);
  EXPECT_EQ(why[9], rejection::none);
  EXPECT_EQ(why[10], rejection::stood_at_lean_end);
  EXPECT_EQ(why[99], rejection::stood_at_lean_end);
  EXPECT_EQ(fettle::detail::stood_at_lean_end_s(log, log.sensors[0]), 89);
}

TEST(SplitAtGaps, CutsALogWhereItsClockJumps) {
  auto log = plain_log([](auto& l) {
    for (std::size_t i = 40; i < 100; ++i) l.time_s[i] += 3;
  });
  const auto parts = fettle::split_at_gaps(log);
  ASSERT_EQ(parts.size(), 2U);
  EXPECT_EQ(parts[0].rows(), 40U);
  EXPECT_EQ(parts[1].rows(), 60U);
  EXPECT_EQ(parts[1].sensors[0].lambda.size(), 60U);
}

TEST(Recording, NamesTheSeriesThatDoesNotFitAndTheRowWhoseTimeFalls) {
  auto short_speed = plain_log([](auto& l) { l.speed_rpm.pop_back(); });
  EXPECT_THROW(short_speed.check(), fettle::error);
  auto back = plain_log([](auto& l) { l.time_s[7] = l.time_s[6]; });
  try {
    back.check();
    FAIL();
  } catch (const fettle::error& refusal) {
    EXPECT_NE(std::string(refusal.what()).find("row 7"), std::string::npos);
  }
}

}  // namespace screening_test

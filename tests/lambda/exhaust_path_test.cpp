// SPDX-License-Identifier: MIT
#include "fettle/lambda/exhaust_path.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>
#include <vector>

namespace exhaust_path_test {

// Published form t_d = a/n + b/m_air; arithmetic: 1.5 revolutions, 540 degrees of the crank, take 30.0 ms at 3000 rpm
// and 15.0 ms at 6000 rpm (the form from memory, the figures by hand).
TEST(SteadyDelay, CountsCrankRevolutions) {
  EXPECT_NEAR(fettle::steady_delay_s({.revolutions = 1.5}, 3000, 10), 0.030, 1e-15);
  EXPECT_NEAR(fettle::steady_delay_s({.revolutions = 1.5}, 6000, 10), 0.015, 1e-15);
  EXPECT_NEAR(fettle::steady_delay_s({.pipe_gas_mass_g = 0.8, .latency_s = 0.01}, 6000, 40), 0.03, 1e-15);
}

// Closed form: first-order lag, 10 ms step, 50 ms time constant: exp(-0.2) = 0.818731 (six digits printed).
TEST(LagStep, KeepsTheShareOfTheClosedForm) {
  EXPECT_NEAR(fettle::lag_step::over(0.010, 0.050).keep, 0.818731, 5e-7);
}

TEST(LagStep, FollowsARampExactly) {
  constexpr double lag_s = 0.07, slope = 3;
  double value = 0, input = 0,
         time_s = 0;  // the exact response to a ramp from rest: slope * (t - lag (1 - exp(-t/lag)))
  for (const double step_s : {0.01, 0.013, 0.2, 0.001}) {
    const auto step = fettle::lag_step::over(step_s, lag_s);
    const double next = input + slope * step_s;
    value = step.keep * value + step.before * input + step.now * next;
    input = next;
    time_s += step_s;
    EXPECT_NEAR(value, slope * (time_s - lag_s * -std::expm1(-time_s / lag_s)), 1e-14);
  }
}

RC_GTEST_PROP(LagStep, WeightsArePositiveAndSumToOne, ()) {
  const double step_s = *rc::gen::inRange(1, 100000) * 1e-5, lag_s = *rc::gen::inRange(0, 100000) * 1e-5;
  const auto step = fettle::lag_step::over(step_s, lag_s);
  RC_ASSERT(step.keep >= 0 && step.now >= 0 && step.before >= -1e-12);
  RC_ASSERT(std::abs(step.keep + step.now + step.before - 1) < 1e-12);
}

struct steady_log {
  std::vector<double> time_s, speed_rpm, flow_g_s;
  explicit steady_log(double rpm, double flow) {
    for (int i = 0; i < 200; ++i) {
      time_s.push_back(0.01 * i);
      speed_rpm.push_back(rpm);
      flow_g_s.push_back(flow);
    }
  }
};

TEST(Transport, EqualsTheSteadyDelayAtSteadySpeed) {
  const steady_log log(4200, 37);
  const fettle::exhaust_path path{.revolutions = 1.7, .pipe_gas_mass_g = 0.9, .latency_s = 0.013};
  const auto from = fettle::transport(log.time_s, log.speed_rpm, log.flow_g_s).injected(path);
  const double injected_s = 0.01 * (static_cast<double>(from[150].row) + from[150].fraction);
  EXPECT_NEAR(log.time_s[150] - injected_s, fettle::steady_delay_s(path, 4200, 37), 1e-9);
}

TEST(Transport, MarksGasFromBeforeTheLog) {
  const steady_log log(1000, 5);
  const auto from = fettle::transport(log.time_s, log.speed_rpm, log.flow_g_s).injected({.revolutions = 2});
  EXPECT_TRUE(std::isnan(from[5].fraction));
  EXPECT_FALSE(std::isnan(from[13].fraction));
}

TEST(Transport, CountsAcrossAChangeOfSpeed) {
  steady_log log(1000, 1e9);
  for (int i = 100; i < 200; ++i) log.speed_rpm[static_cast<std::size_t>(i)] = 9000;
  const auto from = fettle::transport(log.time_s, log.speed_rpm, log.flow_g_s).injected({.revolutions = 1});
  double turns = 0;
  std::size_t row = 102;
  while (turns < 1) {
    turns += 0.01 * (log.speed_rpm[row] + log.speed_rpm[row - 1]) / 120;
    --row;
  }
  EXPECT_EQ(from[102].row, row);
}

TEST(Transport, StandsStillWithoutDividingByZero) {
  const steady_log log(0, 0);
  const auto from =
      fettle::transport(log.time_s, log.speed_rpm, log.flow_g_s).injected({.revolutions = 1, .pipe_gas_mass_g = 1});
  for (const auto& place : from) EXPECT_TRUE(std::isnan(place.fraction));
}

}  // namespace exhaust_path_test

// SPDX-License-Identifier: MIT
#include "fettle/vehicle/blip.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <array>
#include <cmath>
#include <limits>

#include "draws.hpp"

namespace blip_test {

const std::array<double, 3> speeds{1000, 5000, 9000};
const std::array<double, 4> throttles{0, 10, 40, 100};
const std::array<double, 12> torques{-20, 90, 140, 150, -35, 20, 210, 260, -60, -30, 120, 200};
const fettle::free_engine<double> engine{.torque_nm = {{{{speeds.data(), 3}, {throttles.data(), 4}}}, torques.data()},
                                         .inertia_kgm2 = 0.1,
                                         .closed_pct = 1,
                                         .actuator_pct_per_s = 1000,
                                         .delay_rev = 1};

// Torque in proportion to the throttle, no delay: the area under a triangle or trapezoid is its momentum (closed form).
TEST(RpmAfterPulse, IsTheAreaUnderTheThrottleForATorqueInProportion) {
  const std::array<double, 4> proportional{0, 100, 0, 100};
  const std::array<double, 2> rpm{0, 20000}, pct{0, 100};
  const fettle::free_engine<double> simple{.torque_nm = {{{{rpm.data(), 2}, {pct.data(), 2}}}, proportional.data()},
                                           .inertia_kgm2 = 0.1,
                                           .actuator_pct_per_s = 500};
  const double triangle = 0.5 * 0.2 * 50;  // N m s: peak 50 % after 0.1 s, closed after 0.2 s
  EXPECT_NEAR(fettle::rpm_after_pulse(simple, 3000.0, {80, 0.2}) - 3000, fettle::rpm_of(triangle / 0.1), 0.05);
  const double trapezoid = 40 * (0.3 - 40.0 / 500);
  EXPECT_NEAR(fettle::rpm_after_pulse(simple, 3000.0, {40, 0.3}) - 3000, fettle::rpm_of(trapezoid / 0.1), 0.05);
}

TEST(RpmAfterPulse, FallsByFrictionWhileTheThrottleIsClosed) {
  EXPECT_LT(fettle::rpm_after_pulse(engine, 4000.0, {1, 0.2}), 4000);
}

RC_GTEST_PROP(PlanBlip, EndsAtTheWantedSpeedOrSaysWhyNot, ()) {
  const double from = draws::between(1500, 6000), to = from * draws::between(1.05, 1.7);
  const fettle::blip_task<double> task{from, to, draws::between(0.05, 0.4), 1.0, draws::between(5, 100)};
  const auto made = fettle::plan_blip(engine, task);
  RC_ASSERT(made.pulse.peak_pct <= task.widest_pct);
  RC_ASSERT(made.pulse.duration_s <= task.longest_s);
  RC_ASSERT(made.end_rpm == fettle::rpm_after_pulse(engine, from, made.pulse));
  if (made.status == fettle::blip_status::in_time) RC_ASSERT(made.pulse.duration_s == task.wanted_s);
  if (made.status == fettle::blip_status::late) RC_ASSERT(made.pulse.peak_pct == task.widest_pct);
  if (made.status == fettle::blip_status::unreachable)
    RC_ASSERT(made.end_rpm < to);
  else
    RC_ASSERT(std::abs(made.end_rpm - to) <= 1e-6 * to);
}

TEST(PlanBlip, WithANarrowThrottleIsLateOrUnreachable) {
  EXPECT_EQ(fettle::plan_blip<double>(engine, {4000, 5400, 0.15, 1, 100}).status, fettle::blip_status::in_time);
  EXPECT_EQ(fettle::plan_blip<double>(engine, {4000, 5400, 0.15, 1, 18}).status, fettle::blip_status::late);
  EXPECT_EQ(fettle::plan_blip<double>(engine, {4000, 5400, 0.15, 1, 5}).status, fettle::blip_status::unreachable);
}

// An engine that idles fast speeds up by itself once it is free.
TEST(PlanBlip, MovesNothingWhereTheEngineGetsThereByItself) {
  auto eager = engine;
  eager.closed_pct = 4;  // 24 N m at 1000 rpm
  const auto made = fettle::plan_blip<double>(eager, {1000, 1050, 0.3, 1, 100});
  EXPECT_EQ(made.status, fettle::blip_status::not_needed);
  EXPECT_EQ(made.pulse.duration_s, 0);
}

TEST(PlanBlip, RefusesWhatMakesNoSense) {
  const auto status = [](const fettle::free_engine<double>& e, const fettle::blip_task<double>& task) {
    return fettle::plan_blip(e, task).status;
  };
  const fettle::blip_task<double> task{4000, 5400, 0.15, 1, 100};
  auto heavy = engine;
  heavy.inertia_kgm2 = -0.1;
  EXPECT_EQ(status(heavy, task), fettle::blip_status::unusable);
  EXPECT_TRUE(std::isnan(fettle::rpm_after_pulse(heavy, 4000.0, {50, 0.2})));
  EXPECT_EQ(status(engine, {5400, 4000, 0.15, 1, 100}), fettle::blip_status::unusable);
  EXPECT_EQ(status(engine, {4000, 5400, 0, 1, 100}), fettle::blip_status::unusable);
  EXPECT_EQ(status(engine, {4000, std::nan(""), 0.15, 1, 100}), fettle::blip_status::unusable);
}

// Without an end to its time a plan would never be ready: neither by what is asked, nor where the torque comes ever later
// because the engine hardly turns.
TEST(PlanBlip, EndsWhateverItIsAsked) {
  constexpr double endless = std::numeric_limits<double>::infinity();
  for (const double longest_s : {endless, 1e30, std::nan("")}) {
    EXPECT_EQ(fettle::plan_blip<double>(engine, {4000, 20000, 0.15, longest_s, 5}).status,
              fettle::blip_status::unusable);
    EXPECT_TRUE(std::isnan(fettle::rpm_after_pulse(engine, 4000.0, {1, longest_s})));
  }
  EXPECT_EQ(fettle::plan_blip<double>(engine, {4000, 20000, endless, endless, 5}).status,
            fettle::blip_status::unusable);
  auto late = engine;
  late.delay_rev = 1e12;
  EXPECT_TRUE(std::isnan(fettle::rpm_after_pulse(late, 4000.0, {50, 0.2})));
  late.delay_rev = std::nan("");
  EXPECT_TRUE(std::isnan(fettle::rpm_after_pulse(late, 4000.0, {50, 0.2})));
}

constexpr std::array<float, 2> line{0, 10000}, whole{0, 100};
constexpr std::array<float, 4> push{0, 100, 0, 100};
static_assert(fettle::rpm_after_pulse<float>({.torque_nm = {{{{line.data(), 2}, {whole.data(), 2}}}, push.data()},
                                              .inertia_kgm2 = 0.1F,
                                              .actuator_pct_per_s = 5000},
                                             3000, {50, 0.02F}) > 3000);

}  // namespace blip_test

// SPDX-License-Identifier: MIT
#include "fettle/fuel/delivered.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>

#include "draws.hpp"

namespace delivered_test {

using fettle::nozzle_place, fettle::rail_reading;

// Closed form: a rail 300 kPa above the air of 100 kPa, a manifold at 40 kPa.
TEST(PressureDrop, IsRailLessThePlaceOfTheNozzleHoweverTheRailIsRead) {
  constexpr fettle::fuel_pressures<double> absolute{400, 40, 100}, gauge{300, 40, 100}, differential{360, 40, 100};
  for (const auto& [reading, now] : {std::pair{rail_reading::absolute, absolute}, std::pair{rail_reading::gauge, gauge},
                                     std::pair{rail_reading::differential, differential}}) {
    EXPECT_EQ(fettle::pressure_drop_kpa(reading, nozzle_place::manifold, now), 360);
    EXPECT_EQ(fettle::pressure_drop_kpa(reading, nozzle_place::ambient, now), 300);
  }
}

TEST(PressureDrop, NeedsTheManifoldOnlyWhereItSaysSo) {
  for (const auto reading : {rail_reading::absolute, rail_reading::gauge, rail_reading::differential})
    for (const auto nozzle : {nozzle_place::manifold, nozzle_place::ambient})
      EXPECT_EQ(std::isnan(fettle::pressure_drop_kpa<double>(reading, nozzle, {300, std::nan(""), 100})),
                fettle::depends_on_manifold(reading, nozzle));
}

// SAE J1832 linear law, figures by hand: flow 3 mg/ms and offset -2.4 mg are a dead time of 0.8 ms; 12 mg take 4.8 ms.
TEST(Delivered, FollowsTheLinearLaw) {
  const fettle::pulsed_bank<double> bank{.flow_mg_per_ms = 3};
  EXPECT_NEAR(fettle::delivered_mg(bank, 4.8, 0.8, {}), 12, 1e-12);
  EXPECT_EQ(fettle::delivered_mg(bank, 0.5, 0.8, {}), 0);
  EXPECT_EQ(fettle::delivered_mg(bank, 0.0, 0.8, {}), 0);
}

// Published pressure law, ideal orifice: from 3 to 4 bar the flow rises 1.154701 times.
TEST(Delivered, FollowsThePressureOverTheNozzle) {
  const fettle::pulsed_bank<double> bank{
      .flow_mg_per_ms = 3, .reference_drop_kpa = 300, .rail = rail_reading::gauge, .nozzle = nozzle_place::manifold};
  EXPECT_NEAR(fettle::delivered_mg(bank, 4.8, 0.8, {350, 50, 100}), 12 * 1.154701, 12 * 0.5e-6);
  EXPECT_TRUE(std::isnan(fettle::delivered_mg(bank, 4.8, 0.8, {-100, 50, 100})));
}

TEST(Delivered, CountsTheDeadTimeOfEveryPulse) {
  const fettle::pulsed_bank<double> once{.flow_mg_per_ms = 3};
  fettle::pulsed_bank<double> twice = once;
  twice.pulses_per_cycle = 2;
  EXPECT_NEAR(fettle::delivered_mg(twice, 2.8, 0.8, {}), fettle::delivered_mg(once, 4.8, 0.8, {}), 1e-12);
}

// The same engine described in three ways delivers the same.
RC_GTEST_PROP(Delivered, DoesNotDependOnHowTheRailIsRead, ()) {
  const double rail = draws::between<double>(250, 500), manifold = draws::between<double>(20, 100),
               ambient = draws::between<double>(80, 105), pulse = draws::between<double>(0, 15);
  for (const auto nozzle : {nozzle_place::manifold, nozzle_place::ambient}) {
    fettle::pulsed_bank<double> bank{.flow_mg_per_ms = 3, .reference_drop_kpa = 300, .nozzle = nozzle};
    bank.rail = rail_reading::absolute;
    const double expected = fettle::delivered_mg(bank, pulse, 0.8, {rail, manifold, ambient});
    bank.rail = rail_reading::gauge;
    RC_ASSERT(std::abs(fettle::delivered_mg(bank, pulse, 0.8, {rail - ambient, manifold, ambient}) - expected) < 1e-9);
    bank.rail = rail_reading::differential;
    RC_ASSERT(std::abs(fettle::delivered_mg(bank, pulse, 0.8, {rail - manifold, manifold, ambient}) - expected) < 1e-9);
  }
}

static_assert(fettle::delivered_mg<float>({.flow_mg_per_ms = 4}, 3, 1, {}) == 8.0F);

}  // namespace delivered_test

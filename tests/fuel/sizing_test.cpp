// SPDX-License-Identifier: MIT
#include "fettle/fuel/sizing.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>

#include "draws.hpp"

namespace sizing_test {

// Computed by hand from the definitions of specific consumption and duty, no published example: 150 kW, 300 g/kWh, four
// injectors at 85 % duty: 220.588 g/min, 296.09 cm3/min at 745 kg/m3.
TEST(RequiredFlow, OfTheWorkedExample) {
  const double flow =
      fettle::required_flow_g_per_min<double>({.power_kw = 150, .bsfc_g_per_kwh = 300, .injectors = 4, .duty = 0.85});
  EXPECT_NEAR(flow, 220.588, 0.5e-3);
  EXPECT_NEAR(fettle::cm3_per_min(flow, 745.0), 296.09, 0.5e-2);
  EXPECT_NEAR(fettle::mg_per_ms(flow), 3.67647, 0.5e-5);
}

// Computed by hand: at 9000 rpm a cycle lasts 13.3333 ms; 1 ms of dead time takes 0.075 of a duty of 0.85, so that the
// flow must be 0.85/0.775 of what it is without.
TEST(RequiredFlow, CountsDeadTime) {
  fettle::power_target<double> target{.power_kw = 150, .bsfc_g_per_kwh = 300, .injectors = 4, .duty = 0.85};
  target.speed_rpm = 9000;
  target.dead_time_ms = 1;
  EXPECT_NEAR(fettle::open_share(0.85, 1.0, 9000.0), 0.775, 1e-12);
  EXPECT_NEAR(fettle::required_flow_g_per_min(target), 220.588 * 0.85 / 0.775, 1e-3);
  target.dead_time_ms = 12;
  EXPECT_EQ(fettle::open_share(0.85, 12.0, 9000.0), 0);
  EXPECT_TRUE(std::isinf(fettle::required_flow_g_per_min(target)));
}

// Two banks of five: what each bank carries adds up to the target.
RC_GTEST_PROP(RequiredFlow, IsTheInverseOfCarriedPower, ()) {
  const fettle::power_target<double> target{
      draws::between<double>(50, 500), draws::between<double>(240, 400), 10,
      draws::between<double>(0.5, 1),  draws::between<double>(0, 12000), draws::between<double>(0, 2)};
  const double flow_g_per_min = fettle::required_flow_g_per_min(target);
  const double share = fettle::open_share(target.duty, target.dead_time_ms, target.speed_rpm);
  const double first = fettle::carried_power_kw(5 * flow_g_per_min, target.bsfc_g_per_kwh, share);
  const double second = fettle::carried_power_kw(5 * flow_g_per_min, target.bsfc_g_per_kwh, share);
  RC_ASSERT(std::abs(first + second - target.power_kw) <= 1e-14 * 8 * target.power_kw);
}

// Published conversion: 1 lb/(hp h) = 608.277 g/kWh; 0.50 lb/(hp h) = 304.1 g/kWh.
TEST(SpecificConsumption, ConvertsFromPoundsPerHorsepowerHour) {
  EXPECT_NEAR(fettle::g_per_kwh_from_lb_per_hph(1.0), 608.277, 0.5e-3);
  EXPECT_NEAR(fettle::g_per_kwh_from_lb_per_hph(0.5), 304.1, 0.05);
}

static_assert(fettle::required_flow_g_per_min<float>({60, 100, 1, 1}) == 100.0F);

}  // namespace sizing_test

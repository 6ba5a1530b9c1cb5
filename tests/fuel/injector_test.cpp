// SPDX-License-Identifier: MIT
#include "fettle/fuel/injector.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>
#include <limits>

#include "draws.hpp"
#include "fettle/fuel/banks.hpp"
#include "fettle/map/table.hpp"

namespace injector_test {

constexpr fettle::axis<double, 4> battery_v{{8, 10, 12, 14}};
constexpr fettle::axis<double, 2> drop_kpa{{250, 400}};
constexpr fettle::table dead_time_ms{battery_v, drop_kpa, {2.4, 3.0, 1.6, 2.0, 1.1, 1.3, 0.8, 1.0}};
constexpr fettle::axis<double, 4> open_ms{{0.2, 0.5, 1.0, 2.0}};
constexpr fettle::table short_pulse_ms{open_ms, {-0.08, -0.02, 0.03, 0.0}};
constexpr auto short_pulses = short_pulse_ms.view();

constexpr fettle::injector<double> sound{.static_flow_mg_per_ms = 3,
                                         .reference_drop_kpa = 300,
                                         .smallest_open_ms = 0.4,
                                         .dead_time_ms = dead_time_ms.view(),
                                         .short_pulse_ms = &short_pulses};

// Published algebra of a straight flow line (SAE J1832: slope m, flow offset Y, time offset X = -Y/m): m = 3.0 mg/ms,
// Y = -2.4 mg gives X = 0.8 ms, and 12 mg take 4.8 ms.
TEST(FlowLine, OfTheWorkedExample) {
  const fettle::flow_line<double> line{3.0, 0.8, 0.2};
  EXPECT_DOUBLE_EQ(fettle::pulse_ms(line, 12.0), 4.8);
  EXPECT_DOUBLE_EQ(fettle::mass_mg(line, 4.8), 12.0);
  EXPECT_EQ(fettle::pulse_ms(line, 0.0), 0.0);
  EXPECT_EQ(fettle::mass_mg(line, 0.7), 0.0);
}

// Computed from Bernoulli's law for an ideal orifice, square root of the pressure ratio: 3 to 4 bar 1.154701, 2.5 to 3
// bar 1.095445.
TEST(PressureFlowFactor, IsTheSquareRootOfThePressureRatio) {
  EXPECT_NEAR(fettle::pressure_flow_factor(400.0, 300.0), 1.154701, 0.5e-6);
  EXPECT_NEAR(fettle::pressure_flow_factor(300.0, 250.0), 1.095445, 0.5e-6);
  EXPECT_EQ(fettle::pressure_flow_factor(0.0, 300.0), 0.0);
  EXPECT_TRUE(std::isnan(fettle::pressure_flow_factor(-1.0, 300.0)));
}

// Four-stroke arithmetic: 12000 rpm last 10 ms.
TEST(CycleTime, OfFourStrokes) {
  EXPECT_DOUBLE_EQ(fettle::cycle_ms(12000.0), 10.0);
  EXPECT_DOUBLE_EQ(fettle::duty(8.0, fettle::cycle_ms(12000.0)), 0.8);
  EXPECT_TRUE(std::isinf(fettle::cycle_ms(0.0)));
}

TEST(FlowLine, TakesDeadTimeAndFlowFromTheSupply) {
  const auto line = fettle::flow_line_at(sound, {.battery_v = 13, .drop_kpa = 400});
  EXPECT_DOUBLE_EQ(line.dead_time_ms, 1.15);
  EXPECT_DOUBLE_EQ(line.flow_mg_per_ms, 3 * std::sqrt(400.0 / 300));
  EXPECT_EQ(line.faults, fettle::fuel_fault::none);
}

TEST(FlowLine, UsesTheEdgeBeyondItsMapAndSaysSo) {
  for (const auto& supply : {fettle::injector_supply<double>{6, 300}, fettle::injector_supply<double>{15, 300},
                             fettle::injector_supply<double>{12, 200}, fettle::injector_supply<double>{12, 500}}) {
    const auto line = fettle::flow_line_at(sound, supply);
    EXPECT_EQ(line.faults, fettle::fuel_fault::supply_outside_map);
    EXPECT_GT(line.flow_mg_per_ms, 0);
  }
  EXPECT_DOUBLE_EQ(fettle::flow_line_at(sound, {6, 250}).dead_time_ms, 2.4);
}

TEST(FlowLine, IsRefusedWhenTheInjectorOrItsSupplyIsUnusable) {
  const double nan = std::nan(""), inf = std::numeric_limits<double>::infinity();
  const auto expect_shut = [](const fettle::injector<double>& injector, fettle::injector_supply<double> supply) {
    const auto line = fettle::flow_line_at(injector, supply);
    const auto out =
        fettle::split(9.0, 0.0, {line, {}}, {.cycle_ms = 20, .largest_duty = 0.9}, fettle::bank_mode::primary);
    EXPECT_EQ(out.primary_ms, 0);
    EXPECT_TRUE(has(out.faults, fettle::fuel_fault::injector_unusable));
  };
  for (const double flow : {0.0, -3.0, nan, inf}) {
    auto injector = sound;
    injector.static_flow_mg_per_ms = flow;
    expect_shut(injector, {12, 300});
  }
  for (const double open : {-0.1, nan, inf}) {
    auto injector = sound;
    injector.smallest_open_ms = open;
    expect_shut(injector, {12, 300});
  }
  for (const double reference : {0.0, -300.0, nan}) {
    auto injector = sound;
    injector.reference_drop_kpa = reference;
    expect_shut(injector, {12, 300});
  }
  expect_shut({}, {12, 300});  // nothing filled in
  expect_shut({}, {});
  const fettle::map_view<1, double> no_curve{};
  auto curved = sound;
  curved.short_pulse_ms = &no_curve;
  expect_shut(curved, {12, 300});
  EXPECT_EQ(fettle::mass_mg(fettle::flow_line_at(curved, {12, 300}), 5.0), 0);
  for (const bool has_flow : {false, true}) {  // and what nobody described
    fettle::injector<double> injector{.smallest_open_ms = sound.smallest_open_ms, .dead_time_ms = sound.dead_time_ms};
    (has_flow ? injector.static_flow_mg_per_ms : injector.reference_drop_kpa) = 3;
    expect_shut(injector, {12, 300});
    EXPECT_EQ(fettle::flow_line_at(injector, {12, 300}).flow_mg_per_ms, 0);
  }
  for (const double drop : {0.0, -5.0, nan, inf}) expect_shut(sound, {12, drop});
  expect_shut(sound, {nan, 300});
  EXPECT_TRUE(has(fettle::flow_line_at(sound, {nan, 300}).faults, fettle::fuel_fault::not_a_number));

  // A correction that shortens a longer pulse cannot be undone; one that makes a pulse negative cannot be driven.
  constexpr fettle::table falling{open_ms, {0.0, -0.4, 0.0, 0.0}}, negative{open_ms, {-0.3, 0.0, 0.0, 0.0}};
  for (const auto& curve : {falling.view(), negative.view()}) {
    auto injector = sound;
    injector.short_pulse_ms = &curve;
    expect_shut(injector, {12, 300});
  }
}

template <class T>
void mass_to_pulse_and_back() {
  const T nodes[]{draws::between<T>(0.05, 0.3), draws::between<T>(0.4, 0.9), draws::between<T>(1, 3)};
  const T added[]{draws::between<T>(-0.04, 0.3), draws::between<T>(-0.05, 0.2), draws::between<T>(-0.05, 0.05)};
  auto line = draws::line<T>();
  const auto curve = fettle::map_view<1, T>{{{{nodes, 3}}}, added};
  if (*rc::gen::arbitrary<bool>() && fettle::detail::is_invertible(curve)) line.short_pulse_ms = &curve;
  const T mass = draws::between<T>(0.01, 100);
  const T pulse = fettle::pulse_ms(line, mass);
  const T back = fettle::mass_mg(line, pulse);
  // The pulse is rounded after the dead time was added: half a unit of the pulse, a few for the rest, as mass; a steep
  // stretch of the correction multiplies it by open time over corrected time, at most 20 here.
  const T rounding = std::numeric_limits<T>::epsilon() * 4 * (pulse * line.flow_mg_per_ms);
  RC_ASSERT(std::abs(back - mass) <= (line.short_pulse_ms ? 20 : 1) * rounding);
}
RC_GTEST_PROP(FlowLine, InverseIsExactToRoundingInDouble, ()) {
  mass_to_pulse_and_back<double>();
}
RC_GTEST_PROP(FlowLine, InverseIsExactToRoundingInFloat, ()) {
  mass_to_pulse_and_back<float>();
}

// Beyond both ends of a short-pulse curve its end values are added, and taken away again.
TEST(FlowLine, ShortPulseCurveHoldsItsEnds) {
  constexpr fettle::table curve{open_ms, {0.3, 0.2, 0.1, 0.05}};
  const auto view = curve.view();
  const fettle::flow_line<double> line{.flow_mg_per_ms = 2, .dead_time_ms = 1, .short_pulse_ms = &view};
  const auto points = open_ms.points();
  for (const auto& [open, added] : {std::pair{points.front() / 2, 0.3}, {points.back() * 3, 0.05}}) {
    EXPECT_NEAR(fettle::pulse_ms(line, 2 * open), 1 + open + added, 1e-14);
    EXPECT_NEAR(fettle::mass_mg(line, 1 + open + added), 2 * open, 1e-14);
  }
}

RC_GTEST_PROP(FlowLine, LongerPulseDeliversMore, ()) {
  const auto line = fettle::flow_line_at(sound, {draws::between<double>(8, 14), draws::between<double>(250, 400)});
  const double pulse = draws::between<double>(0, 20), longer = pulse + draws::between<double>(0, 1);
  RC_ASSERT(fettle::mass_mg(line, longer) >= fettle::mass_mg(line, pulse));
}

TEST(FlowLine, PassesNaNOn) {
  const fettle::flow_line<double> line{3.0, 0.8, 0.2};
  EXPECT_TRUE(std::isnan(fettle::pulse_ms(line, std::nan(""))));
  EXPECT_TRUE(std::isnan(fettle::mass_mg(line, std::nan(""))));
}

static_assert(fettle::flow_line_at(sound, {12, 300}).flow_mg_per_ms == 3.0);
static_assert(fettle::pulse_ms(fettle::flow_line<float>{2, 1, 0}, 4.0F) == 3.0F);

// A number, a curve over voltage, a map over voltage and pressure: each says the dead time, and where it ends.
TEST(DeadTime, IsANumberACurveOrAMap) {
  static constexpr fettle::axis<double, 2> volts{{10, 14}};
  static constexpr fettle::table curve_ms{volts, {1.4, 0.8}};
  const fettle::dead_time<double> number = 0.9, curve = curve_ms.view(), map = dead_time_ms.view(), none;
  EXPECT_EQ(number.at(3, 900), 0.9);
  EXPECT_TRUE(number.is_within(3, 900));
  EXPECT_NEAR(curve.at(12, 900), 1.1, 1e-15);
  EXPECT_TRUE(curve.is_within(12, 900));
  EXPECT_FALSE(curve.is_within(9, 300));
  EXPECT_EQ(map.at(12, 300), fettle::interpolate(dead_time_ms.view(), 12.0, 300.0));
  EXPECT_FALSE(map.is_within(12, 900));
  EXPECT_TRUE(std::isnan(none.at(12, 300)));
  EXPECT_TRUE(std::isnan(fettle::dead_time<double>{fettle::map_view<2, double>{}}.at(12, 300)));
  fettle::injector<double> injector{.static_flow_mg_per_ms = 3, .reference_drop_kpa = 300, .dead_time_ms = 0.9};
  EXPECT_EQ(fettle::flow_line_at(injector, {12, 300}).faults, fettle::fuel_fault::none);
  EXPECT_EQ(fettle::flow_line_at(injector, {12, 300}).dead_time_ms, 0.9);
}

}  // namespace injector_test

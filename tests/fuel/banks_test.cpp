// SPDX-License-Identifier: MIT
#include "fettle/fuel/banks.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>
#include <cstdint>
#include <limits>
#include <vector>

#include "draws.hpp"

namespace banks_test {

using fettle::bank_mode;
using fettle::fuel_fault;

/// Masses between two ends: what a bank, or both together, can deliver.
template <class T>
struct span_mg {
  T low, high;
  [[nodiscard]] T distance(T mass) const { return mass < low ? low - mass : (mass > high ? mass - high : T{0}); }
};

template <class T>
struct drawn {
  fettle::flow_line<T> primary = draws::line<T>();
  fettle::flow_line<T> secondary = draws::line<T>();
  fettle::pulse_limits<T> limits = draws::limits<T>();
  T mass_mg = draws::between<T>(0, *rc::gen::element(5.0, 20.0, 100.0));
  T share = *rc::gen::element(T{0}, T{1}, draws::between<T>(0, 1));
  bank_mode before = draws::mode();

  [[nodiscard]] T longest_ms() const { return limits.cycle_ms * limits.largest_duty; }
  [[nodiscard]] static T smallest_ms(const fettle::flow_line<T>& line) {
    return line.dead_time_ms + line.smallest_open_ms;
  }
  [[nodiscard]] bool fits(const fettle::flow_line<T>& line) const { return smallest_ms(line) <= longest_ms(); }
  [[nodiscard]] span_mg<T> range(const fettle::flow_line<T>& line) const {
    return {line.flow_mg_per_ms * line.smallest_open_ms, line.flow_mg_per_ms * (longest_ms() - line.dead_time_ms)};
  }
  /// All sums of two possible pulses, found without the library.
  [[nodiscard]] std::vector<span_mg<T>> possible() const {
    std::vector<span_mg<T>> result{{T{0}, T{0}}};
    if (fits(primary)) result.push_back(range(primary));
    const bool is_relief = !fits(primary) || mass_mg > range(primary).high;
    if (fits(secondary) && (share > 0 || is_relief)) result.push_back(range(secondary));
    if (fits(primary) && fits(secondary)) {
      result.push_back({range(primary).low + range(secondary).low, range(primary).high + range(secondary).high});
    }
    return result;
  }
  [[nodiscard]] fettle::bank_split<T> split() const {
    return fettle::split(mass_mg, share, {primary, secondary}, limits, before);
  }
};

template <class T>
constexpr T exactness = std::is_same_v<T, double> ? T(1e-12) : T(1e-5);

template <class T>
void pulses_are_possible() {
  const drawn<T> in;
  const auto out = in.split();
  const auto check = [&](const fettle::flow_line<T>& line, T pulse_ms) {
    if (pulse_ms == 0) return;
    RC_ASSERT(pulse_ms >= in.smallest_ms(line));
    RC_ASSERT(pulse_ms <= in.longest_ms());
  };
  check(in.primary, out.primary_ms);
  check(in.secondary, out.secondary_ms);
  RC_ASSERT((out.primary_ms > 0) == (out.mode == bank_mode::primary || out.mode == bank_mode::both));
  RC_ASSERT((out.secondary_ms > 0) == (out.mode == bank_mode::secondary || out.mode == bank_mode::both));
}
RC_GTEST_PROP(Split, PulsesAreZeroOrBetweenSmallestAndLimitInDouble, ()) {
  pulses_are_possible<double>();
}
RC_GTEST_PROP(Split, PulsesAreZeroOrBetweenSmallestAndLimitInFloat, ()) {
  pulses_are_possible<float>();
}

template <class T>
void mass_is_delivered() {
  const drawn<T> in;
  const auto out = in.split();
  T nearest = std::numeric_limits<T>::infinity();
  for (const auto& span : in.possible()) nearest = std::min(nearest, span.distance(in.mass_mg));
  RC_TAG(nearest == 0 ? "possible" : "impossible");
  const T delivered = fettle::mass_mg(in.primary, out.primary_ms) + fettle::mass_mg(in.secondary, out.secondary_ms);
  const T tolerance = exactness<T> * std::max(in.mass_mg, delivered);
  RC_ASSERT(std::abs(delivered - (out.primary_mg + out.secondary_mg)) <= tolerance);
  RC_ASSERT(std::abs(in.mass_mg - delivered - out.shortfall_mg) <= tolerance);
  const T error = std::abs(delivered - in.mass_mg);
  if (nearest == 0 || in.mass_mg == 0) {
    RC_ASSERT(error <= tolerance);
  } else {  // the nearest mass, or one not worth leaving: nearer by less than the hysteresis times the step
    RC_ASSERT(error <= nearest + in.limits.hysteresis * (nearest + error) + tolerance);
  }
  if (std::abs(out.shortfall_mg) > tolerance) {
    RC_ASSERT(has(out.faults, out.shortfall_mg > 0 ? fuel_fault::shortfall : fuel_fault::excess));
  }
}
RC_GTEST_PROP(Split, DeliversTheMassWheneverPossibleInDouble, ()) {
  mass_is_delivered<double>();
}
RC_GTEST_PROP(Split, DeliversTheMassWheneverPossibleInFloat, ()) {
  mass_is_delivered<float>();
}

// From no history, no other legal pair of pulses of the same total is nearer to the wanted share: tried on a grid.
template <class T>
void share_is_nearest() {
  drawn<T> in;
  in.before = bank_mode::none;
  const auto out = in.split();
  RC_PRE(out.shortfall_mg == 0 && in.mass_mg > 0);
  const T wanted = in.share * in.mass_mg;
  const auto is_legal = [&](const fettle::flow_line<T>& line, T mass) {
    return mass == 0 || (in.fits(line) && mass >= in.range(line).low && mass <= in.range(line).high);
  };
  const T error = std::abs(out.secondary_mg - wanted);
  constexpr int steps = 200;
  for (int k = 0; k <= steps; ++k) {
    const T secondary = k == steps ? in.mass_mg : in.mass_mg * static_cast<T>(k) / steps;
    const T primary = in.mass_mg - secondary;
    if (in.share == 0 && primary == 0) continue;  // never alone without a share, unless the primary needs relief
    if (!is_legal(in.secondary, secondary) || !is_legal(in.primary, primary)) continue;
    RC_ASSERT(error <= std::abs(secondary - wanted) + exactness<T> * in.mass_mg);
  }
}
RC_GTEST_PROP(Split, ShareIsAsNearAsPossibleInDouble, ()) {
  share_is_nearest<double>();
}
RC_GTEST_PROP(Split, ShareIsAsNearAsPossibleInFloat, ()) {
  share_is_nearest<float>();
}

// While the banks in use stay the same, pulses follow mass and share without jumps.
template <class T>
void is_continuous() {
  drawn<T> in;
  const auto first = in.split();
  drawn<T> moved = in;
  moved.mass_mg = in.mass_mg * (1 + draws::between<T>(-0.02, 0.02));
  moved.share = std::min(T{1}, std::max(T{0}, in.share + draws::between<T>(-0.02, 0.02)));
  moved.before = first.mode;
  const auto second = moved.split();
  RC_PRE(second.mode == first.mode);
  const T step = std::abs(moved.mass_mg - in.mass_mg) + std::abs(moved.share * moved.mass_mg - in.share * in.mass_mg) +
                 exactness<T> * in.mass_mg;
  RC_ASSERT(std::abs(second.secondary_mg - first.secondary_mg) <= step);
  RC_ASSERT(std::abs(second.primary_mg - first.primary_mg) <= 2 * step);
}
RC_GTEST_PROP(Split, IsContinuousWhileTheBanksStayInDouble, ()) {
  is_continuous<double>();
}
RC_GTEST_PROP(Split, IsContinuousWhileTheBanksStayInFloat, ()) {
  is_continuous<float>();
}

/// How often the banks in use change under noise although the old ones could have gone on.
template <class T>
[[nodiscard]] int needless_changes(drawn<T> in, T noise_mg) {
  const T mass_mg = in.mass_mg, share = in.share;
  int changes = 0;
  for (int k = 0; k < 300; ++k) {
    in.mass_mg = std::max(T{0}, mass_mg + noise_mg * draws::between<T>(-1, 1));
    const T share_noise = mass_mg > 0 ? noise_mg / mass_mg : T{0};
    in.share = std::min(T{1}, std::max(T{0}, share + share_noise * draws::between<T>(-1, 1)));
    const auto out = in.split();
    if (out.mode != in.before) {
      const auto p = in.range(in.primary), s = in.range(in.secondary);
      const T m = in.mass_mg;
      const bool could_go_on =
          (in.before == bank_mode::primary && in.fits(in.primary) && m >= p.low && m <= p.high) ||
          (in.before == bank_mode::secondary && in.fits(in.secondary) && in.share > 0 && m >= s.low && m <= s.high) ||
          (in.before == bank_mode::both && in.fits(in.primary) && in.fits(in.secondary) && m >= p.low + s.low &&
           m <= p.high + s.high);
      changes += could_go_on ? 1 : 0;
    }
    in.before = out.mode;
  }
  return changes;
}

template <class T>
void noise_does_not_chatter() {
  const drawn<T> in;
  const T smallest = std::min(in.range(in.primary).low, in.range(in.secondary).low);
  // A band holds twice its half width of noise in the wanted mass; an eighth is far inside it. One change to settle,
  // one more when the noise ends a mode for good: chatter would be dozens.
  RC_ASSERT(needless_changes(in, in.limits.hysteresis * smallest / 8) <= 2);
}
RC_GTEST_PROP(Split, NoiseWithinTheHysteresisDoesNotChatterInDouble, ()) {
  noise_does_not_chatter<double>();
}
RC_GTEST_PROP(Split, NoiseWithinTheHysteresisDoesNotChatterInFloat, ()) {
  noise_does_not_chatter<float>();
}

// The count above does see chatter: the same threshold without hysteresis.
RC_GTEST_PROP(Split, WithoutHysteresisTheThresholdChatters, ()) {
  drawn<double> in;
  in.primary = {3, 1, 0.3};
  in.secondary = {3, 1, 0.5};
  in.limits = {.cycle_ms = 20, .largest_duty = 0.9, .hysteresis = 0};
  in.mass_mg = 15;
  in.share = 0.5 * 1.5 / 15;  // half the smallest pulse of the secondary
  in.before = bank_mode::primary;
  RC_ASSERT(needless_changes(in, 0.02) > 20);
  in.limits.hysteresis = 0.125;
  RC_ASSERT(needless_changes(in, 0.02) == 0);
}

// At the primary's limit the secondary takes over and does not come and go with noise around it.
RC_GTEST_PROP(Split, TakeOverAtThePrimaryLimitDoesNotChatter, ()) {
  const fettle::flow_line<float> primary{3, 1, 0.3F}, secondary{3, 1, 0.5F};
  const fettle::pulse_limits<float> limits{.cycle_ms = 10, .largest_duty = 0.8F};
  bank_mode mode = bank_mode::primary;
  int changes = 0;
  for (int k = 0; k < 300; ++k) {
    const float mass_mg = 21 + 0.5F * draws::between<float>(-1, 1);  // 21 mg is the most the primary can do
    const auto out = fettle::split(mass_mg, 0.0F, {primary, secondary}, limits, mode);
    RC_ASSERT(std::abs(out.shortfall_mg) <= 1e-5F * mass_mg);
    changes += out.mode != mode ? 1 : 0;
    mode = out.mode;
  }
  RC_ASSERT(changes <= 1);
}

TEST(Split, GivesAllOfASmallMassOrNoneByTheNearer) {
  const fettle::flow_line<double> bank{2, 1, 0.5}, shut{};
  const fettle::pulse_limits<double> limits{.cycle_ms = 20, .largest_duty = 0.9};
  const auto more = fettle::split(0.9, 0.0, {bank, shut}, limits, bank_mode::none);  // smallest pulse: 1 mg
  EXPECT_EQ(more.primary_ms, 1.5);
  EXPECT_NEAR(more.shortfall_mg, -0.1, 1e-15);
  EXPECT_TRUE(has(more.faults, fuel_fault::excess));
  const auto none = fettle::split(0.2, 0.0, {bank, shut}, limits, bank_mode::primary);
  EXPECT_EQ(none.primary_ms, 0.0);
  EXPECT_EQ(none.shortfall_mg, 0.2);
  EXPECT_TRUE(has(none.faults, fuel_fault::shortfall));
}

TEST(Split, WithoutAShareTheSecondaryDoesNotServeSmallMasses) {
  const fettle::flow_line<double> primary{4, 1, 1}, secondary{1, 1, 0.2};
  const fettle::pulse_limits<double> limits{.cycle_ms = 20, .largest_duty = 0.9};
  for (const auto before : {bank_mode::none, bank_mode::primary, bank_mode::both, bank_mode::secondary}) {
    const auto out = fettle::split(3.0, 0.0, {primary, secondary}, limits, before);
    EXPECT_EQ(out.secondary_ms, 0.0);
    EXPECT_EQ(out.primary_ms, 2.0);
  }
}

TEST(Split, SecondaryThatStaysShutRelievesNobody) {
  const fettle::flow_line<double> bank{2, 1, 0.5};
  const fettle::pulse_limits<double> limits{.cycle_ms = 10, .largest_duty = 0.8, .secondary_stays_shut = true};
  for (const auto before : {bank_mode::none, bank_mode::primary, bank_mode::both, bank_mode::secondary}) {
    const auto out = fettle::split(20.0, 0.5, {bank, bank}, limits, before);
    EXPECT_EQ(out.primary_ms, 8);
    EXPECT_EQ(out.secondary_ms, 0);
    EXPECT_EQ(out.shortfall_mg, 6);
    EXPECT_EQ(out.faults, fuel_fault::shortfall);
    const auto alone = fettle::split(10.0, 0.5, {{}, bank}, limits, before);
    EXPECT_EQ(alone.primary_ms + alone.secondary_ms, 0);
    EXPECT_TRUE(has(alone.faults, fuel_fault::shortfall));
  }
}

TEST(Split, ReportsWhatBothBanksCannotGive) {
  const fettle::flow_line<double> bank{2, 1, 0.5};
  const fettle::pulse_limits<double> limits{.cycle_ms = 10, .largest_duty = 0.8};
  for (const double mass : {30.0, 1e9}) {
    const auto out = fettle::split(mass, 0.3, {bank, bank}, limits, bank_mode::primary);
    EXPECT_EQ(out.primary_ms, 8);
    EXPECT_EQ(out.secondary_ms, 8);
    EXPECT_EQ(out.shortfall_mg, mass - 28);
    EXPECT_EQ(out.faults, fuel_fault::shortfall);
  }
}

TEST(Split, BadInputIsNamedAndSafe) {
  const double nan = std::nan(""), inf = std::numeric_limits<double>::infinity();
  const fettle::flow_line<double> bank{2, 1, 0.5};
  const fettle::pulse_limits<double> limits{.cycle_ms = 20, .largest_duty = 0.8};
  const auto none = bank_mode::none;

  fettle::bank_split<double> out;
  for (const double mass : {nan, inf}) {  // infinite: air over a mixture that was left at zero, or a sensor
    out = fettle::split(mass, 0.5, {bank, bank}, limits, bank_mode::both);
    EXPECT_EQ(out.faults, fuel_fault::not_a_number);
    EXPECT_EQ(out.primary_ms + out.secondary_ms, 0);
  }

  out = fettle::split(10.0, nan, {bank, bank}, limits, none);
  EXPECT_EQ(out.faults, fuel_fault::not_a_number);
  EXPECT_EQ(out.primary_mg, 10);

  out = fettle::split(-1.0, 0.5, {bank, bank}, limits, bank_mode::both);
  EXPECT_EQ(out.faults, fuel_fault::mass_clamped);
  EXPECT_EQ(out.primary_ms + out.secondary_ms, 0);

  out = fettle::split(10.0, -0.1, {bank, bank}, limits, none);
  EXPECT_EQ(out.faults, fuel_fault::share_clamped);
  EXPECT_EQ(out.primary_mg, 10);
  out = fettle::split(10.0, 1.5, {bank, bank}, limits, none);
  EXPECT_EQ(out.faults, fuel_fault::share_clamped);
  EXPECT_EQ(out.secondary_mg, 10);

  for (const double cycle_ms : {0.0, -20.0, nan, inf}) {
    out = fettle::split(10.0, 0.5, {bank, bank}, {.cycle_ms = cycle_ms, .largest_duty = 0.8}, bank_mode::both);
    EXPECT_EQ(out.faults, fuel_fault::limits_unusable | fuel_fault::shortfall);
    EXPECT_EQ(out.primary_ms + out.secondary_ms, 0);
  }
  out = fettle::split(0.25, 0.5, {bank, bank}, {.cycle_ms = 0, .largest_duty = 0.8}, bank_mode::both);
  EXPECT_EQ(out.faults, fuel_fault::limits_unusable | fuel_fault::shortfall);  // however little was asked for
  for (const double largest : {-0.1, 1.1, nan}) {
    out = fettle::split(10.0, 0.5, {bank, bank}, {.cycle_ms = 20, .largest_duty = largest}, bank_mode::both);
    EXPECT_EQ(out.faults, fuel_fault::limits_unusable | fuel_fault::shortfall);
    EXPECT_EQ(out.primary_ms + out.secondary_ms, 0);
  }
  // An injector of no, negative or unknown flow is shut, and the other bank takes all.
  for (const double flow : {0.0, -2.0, nan, inf}) {
    out = fettle::split(10.0, 0.5, {fettle::flow_line<double>{flow, 1, 0.5}, bank}, limits, bank_mode::both);
    EXPECT_EQ(out.faults, fuel_fault::injector_unusable);
    EXPECT_EQ(out.primary_ms, 0);
    EXPECT_EQ(out.secondary_mg, 10);
  }
  // A dead time longer than the cycle, and a smallest pulse longer than the limit.
  for (const auto& [dead, open] : {std::pair{25.0, 0.5}, std::pair{1.0, 15.5}}) {
    out = fettle::split(10.0, 0.5, {bank, fettle::flow_line<double>{2, dead, open}}, limits, bank_mode::both);
    EXPECT_EQ(out.faults, fuel_fault::pulse_does_not_fit);
    EXPECT_EQ(out.primary_mg, 10);
    EXPECT_EQ(out.secondary_ms, 0);
  }
}

TEST(Split, WhatNobodyDescribedInjectsNothing) {
  const fettle::flow_line<double> bank{2, 1, 0.5};
  for (const fettle::pulse_limits<double>& left_out :
       {fettle::pulse_limits<double>{.cycle_ms = 20}, {.largest_duty = 0.8}, {}}) {
    const auto out = fettle::split(0.25, 0.5, {bank, bank}, left_out, bank_mode::both);
    EXPECT_EQ(out.primary_ms + out.secondary_ms, 0);
    EXPECT_NE(out.faults, fuel_fault::none);
  }
  const fettle::pulse_limits<double> limits{.cycle_ms = 20, .largest_duty = 0.8};
  const fettle::bank_split<double> out = fettle::split(10.0, 0.5, {{}, {}}, limits, bank_mode::both);
  EXPECT_EQ(out.primary_ms + out.secondary_ms, 0);
  EXPECT_EQ(out.shortfall_mg, 10);
}

constexpr bool every_fault_has_a_bit_of_its_own() {
  std::uint16_t seen = 0;
  for (const auto fault :
       {fuel_fault::not_a_number, fuel_fault::injector_unusable, fuel_fault::supply_outside_map,
        fuel_fault::pulse_does_not_fit, fuel_fault::limits_unusable, fuel_fault::share_clamped,
        fuel_fault::mass_clamped, fuel_fault::shortfall, fuel_fault::excess, fuel_fault::film_unusable}) {
    if (has(static_cast<fuel_fault>(seen), fault) || fault == fuel_fault::none) return false;
    seen |= static_cast<std::uint16_t>(fault);
  }
  return true;
}
static_assert(every_fault_has_a_bit_of_its_own());

constexpr fettle::flow_line<float> two_mg_per_ms{2, 1, 0.5F};
constexpr auto halves =
    fettle::split(10.0F, 0.5F, {two_mg_per_ms, two_mg_per_ms}, {.cycle_ms = 20, .largest_duty = 0.8F}, bank_mode::none);
static_assert(halves.primary_ms == 3.5F && halves.secondary_ms == 3.5F && halves.mode == bank_mode::both);

}  // namespace banks_test

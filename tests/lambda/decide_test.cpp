// SPDX-License-Identifier: MIT
#include "fettle/lambda/decide.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>
#include <vector>

namespace decide_test {

using fettle::cell_evidence, fettle::cell_state, fettle::decision_limits;

/// A cell that was driven for a minute; m and s are of the natural logarithm.
cell_evidence driven(double m, double s) {
  return {.correction = std::exp(m), .standard_error = s, .seconds = 60, .passes = 40, .agreement = 0.9};
}
cell_evidence not_driven(double m, double s) {
  return {.correction = std::exp(m), .standard_error = s};
}
double change(const cell_evidence& cell, const decision_limits& limits) {
  return std::log(fettle::decide({{cell}}, limits).applied[0]);
}
cell_state state(const cell_evidence& cell, const decision_limits& limits = {}) {
  return fettle::decide({{cell}}, limits).state[0];
}

/// Nothing in the way of what the loss asks for.
decision_limits wide_open(double margin_errors = 1) {
  return {.richer = 1, .leaner = 0.6, .margin_errors = margin_errors};
}

double normal_density(double x) {
  return std::exp(-x * x / 2) / std::sqrt(2 * 3.14159265358979323846);
}

/// Expected loss of a change by summing over what the right one may be: an excess costs 1, a lack 1, and a lack that
/// the change itself causes `weight`.
double expected_loss(double change, double m, double s, double weight) {
  constexpr int steps = 4000;
  double sum = 0;
  for (int i = 0; i < steps; ++i) {
    const double z = -8 + 16 * (i + 0.5) / steps, right = m + s * z;
    const double excess = std::max(change - right, 0.0), lack = std::max(right - change, 0.0);
    const double caused = std::min(lack, std::max(-change, 0.0));
    sum += normal_density(z) * 16 / steps * (excess + lack + (weight - 1) * caused);
  }
  return sum;
}

// Published: with absolute loss, lean weighed w times rich, the best action is the w / (1 + w) quantile, m + 0.967422 s
// at w = 5: closed form, and the normal table (0.8333 at 0.9674).
TEST(Decide, MarginIsTheQuantileOfWeightedAbsoluteLoss) {
  EXPECT_NEAR(fettle::lean_weight(0.967422), 5, 5e-6);  // six decimals of the margin
  EXPECT_NEAR(fettle::lean_weight(0), 1, 1e-12);
  EXPECT_NEAR(fettle::lean_weight(1), 0.841344746 / 0.158655254, 1e-6);  // the table again, nine digits
  EXPECT_NEAR(change(driven(-0.10, 0.02), wide_open(0.967422)), -0.10 + 0.967422 * 0.02, 1e-12);
}

// Closed form: squared loss of the same weight gives the expectile of the same level, which at w = 5 lies nearer to the
// mean than the quantile: the margin taken here is the more careful of the two.
TEST(Decide, LeansLessThanSquaredLossOfTheSameWeightWould) {
  const double weight = fettle::lean_weight(1);
  double low = 0, high = 2;  // z with w E(theta - z)+ = E(z - theta)+
  for (int i = 0; i < 60; ++i) {
    const double z = (low + high) / 2, above = normal_density(z) - z * 0.5 * std::erfc(z / std::sqrt(2.0));
    (weight * above > above + z ? low : high) = z;
  }
  EXPECT_GT(change(driven(-0.10, 0.02), wide_open()), -0.10 + low * 0.02);
}

RC_GTEST_PROP(DecideLaws, HasTheLeastExpectedLossOfAllChanges, ()) {
  const double m = *rc::gen::inRange(-200, 200) / 1000.0, s = *rc::gen::inRange(2, 80) / 1000.0;
  const double margin = *rc::gen::inRange(0, 20) / 10.0;
  const double weight = fettle::lean_weight(margin), chosen = change(driven(m, s), wide_open(margin));
  const double least = expected_loss(chosen, m, s, weight);
  for (const double other : {chosen - 0.2 * s, chosen + 0.2 * s, m, 0.0, m + margin * s, m - s, 2 * m})
    RC_ASSERT(least <= expected_loss(other, m, s, weight) + 1e-6 * s);
}

RC_GTEST_PROP(DecideLaws, RisesWithTheEstimate, ()) {
  cell_evidence low{.correction = *rc::gen::inRange(50, 200) / 100.0,
                    .standard_error = *rc::gen::inRange(1, 300) / 1000.0,
                    .common_error = *rc::gen::inRange(0, 20) / 1000.0,
                    .seconds = *rc::gen::inRange(0, 30) / 10.0,
                    .passes = static_cast<double>(*rc::gen::inRange(0, 5)),
                    .lean_end_share = *rc::gen::element(0.0, 0.03),
                    .agreement = *rc::gen::inRange(0, 100) / 100.0};
  cell_evidence high = low;
  high.correction *= 1 + *rc::gen::inRange(0, 200) / 1000.0;
  const auto both = fettle::decide({{low, high}});
  RC_ASSERT(both.applied[0] <= both.applied[1]);
}

RC_GTEST_PROP(DecideLaws, NeverLeansBeyondWhatIsSureNorAnyCellBeyondOnePass, ()) {
  const cell_evidence cell{.correction = *rc::gen::inRange(30, 300) / 100.0,
                           .standard_error = *rc::gen::inRange(1, 300) / 1000.0,
                           .seconds = *rc::gen::inRange(0, 600) / 10.0,
                           .passes = static_cast<double>(*rc::gen::inRange(0, 50)),
                           .lean_end_share = *rc::gen::element(0.0, 0.0, 0.06),
                           .agreement = *rc::gen::inRange(0, 100) / 100.0};
  const decision_limits limits{.richer = *rc::gen::inRange(0, 50) / 100.0, .leaner = *rc::gen::inRange(0, 20) / 100.0};
  const double applied = fettle::decide({{cell}}, limits).applied[0];
  RC_ASSERT(applied >= 1 - limits.leaner);
  RC_ASSERT(applied <= 1 + limits.richer);
  if (applied < 1) {
    RC_ASSERT(std::log(applied) >= std::log(cell.correction) + cell.standard_error - 1e-12);
    RC_ASSERT(cell.passes > 0 && cell.lean_end_share < limits.most_lean_end);
  }
  if (cell.passes > 0 && cell.correction > 1)
    RC_ASSERT(std::abs(applied - std::min(cell.correction, 1 + limits.richer)) < 1e-12);
}

RC_GTEST_PROP(DecideLaws, MakesNoStepThatEstimatesAndErrorsDoNotMake, ()) {
  const auto draw = [] { return driven(*rc::gen::inRange(-150, 150) / 1000.0, *rc::gen::inRange(1, 80) / 1000.0); };
  const cell_evidence first = draw(), second = draw();
  const double step = std::abs(change(first, {}) - change(second, {}));
  RC_ASSERT(step <= std::abs(std::log(first.correction / second.correction)) +
                        std::abs(first.standard_error - second.standard_error) + 1e-12);
}

TEST(Decide, EnrichesByTheEstimateHoweverLittleWasDriven) {
  cell_evidence brief = driven(0.12, 0.06);
  brief.seconds = 0.05;
  brief.passes = 1;
  brief.agreement = 0.1;
  brief.lean_end_share = 0.5;
  EXPECT_NEAR(change(brief, {}), 0.12, 1e-12);
  EXPECT_EQ(state(brief), cell_state::corrected);
}

TEST(Decide, EnrichesInFullOnlyFromTwiceWhatMayBeFalselyLeanOnAndLeansAsWithoutIt) {
  const auto suspect = [](double m) {
    auto cell = driven(m, 0.004);
    cell.false_lean = 0.02;
    return cell;
  };
  EXPECT_EQ(change(suspect(0.015), wide_open()), 0);
  EXPECT_NEAR(change(suspect(0.03), wide_open()), 0.02, 1e-12);
  EXPECT_NEAR(change(suspect(0.04), wide_open()), 0.04, 1e-12);
  EXPECT_NEAR(change(suspect(0.08), wide_open()), 0.08, 1e-12);
  EXPECT_EQ(change(suspect(-0.08), wide_open()), change(driven(-0.08, 0.004), wide_open()));
  EXPECT_EQ(state(suspect(0.015)), cell_state::left_alone);
  EXPECT_EQ(state(suspect(0.08)), cell_state::corrected);
  EXPECT_EQ(state(suspect(0.2)), cell_state::still_lean);  // more than one pass may add
  auto beside = not_driven(0.05, 0.001);
  beside.false_lean = 0.03;
  EXPECT_NEAR(change(beside, wide_open()), 2 * (0.05 - 0.031), 1e-12);
}

TEST(Decide, LeansNothingThatWasDrivenTooLittleOrContradictsItselfOrTouchedTheLeanEnd) {
  const cell_evidence rich = driven(-0.04, 0.002);
  EXPECT_NEAR(change(rich, {}), -0.038, 1e-12);
  cell_evidence brief = rich, contradicted = rich, touched = rich;
  brief.seconds = 0.1;
  contradicted.agreement = 0.6;
  touched.lean_end_share = 0.05;
  for (const auto& cell : {brief, contradicted, touched}) {
    EXPECT_EQ(change(cell, {}), 0);
    EXPECT_EQ(state(cell), cell_state::left_alone);
  }
}

TEST(Decide, NoCellJumpsWhenItsTimeOrAgreementOrLeanEndShareCrossesALimit) {
  const auto largest_jump = [](auto member, double from, double to) {
    cell_evidence cell = driven(-0.05, 0.001);
    double jump = 0;
    for (int i = 1; i <= 1000; ++i) {
      const auto at = [&](int step) {
        cell.*member = from + (to - from) * step / 1000;
        return change(cell, {});
      };
      jump = std::max(jump, std::abs(at(i) - at(i - 1)));
    }
    return jump;
  };
  EXPECT_LT(largest_jump(&cell_evidence::seconds, 0, 1), 0.001);
  EXPECT_LT(largest_jump(&cell_evidence::agreement, 0, 1), 0.001);
  EXPECT_LT(largest_jump(&cell_evidence::lean_end_share, 0, 0.1), 0.001);
}

TEST(Decide, NeverLeansWhatWasNotDrivenAndEnrichesItWhereItsSurroundingsAreSure) {
  EXPECT_EQ(change(not_driven(-0.30, 0.001), {}), 0);
  EXPECT_EQ(change(not_driven(0.05, 0.06), {}), 0);
  EXPECT_NEAR(change(not_driven(0.08, 0.06), {}), 0.04, 1e-12);
  EXPECT_NEAR(change(not_driven(0.12, 0.06), {}), 0.12, 1e-12);
  EXPECT_EQ(state(not_driven(0.12, 0.06)), cell_state::not_driven);
  const decision_limits none{.undriven = fettle::undriven_cells::leave_alone};
  EXPECT_EQ(change(not_driven(0.12, 0.06), none), 0);
  EXPECT_EQ(state(not_driven(0.12, 0.06), none), cell_state::still_lean);  // surely, and nothing was done about it
  EXPECT_EQ(state(not_driven(0.05, 0.06), none), cell_state::not_driven);
}

TEST(Decide, SaysWhatBecameOfACell) {
  EXPECT_EQ(state(driven(0.08, 0.002)), cell_state::corrected);
  EXPECT_EQ(state(driven(0.30, 0.002)), cell_state::still_lean);
  EXPECT_EQ(state(driven(-0.03, 0.002)), cell_state::corrected);
  EXPECT_EQ(state(driven(-0.04, 0.02)), cell_state::safe_part);
  EXPECT_EQ(state(driven(-0.20, 0.002)), cell_state::safe_part);  // one pass leans 5 % at most
  EXPECT_EQ(state(driven(-0.01, 0.02)), cell_state::left_alone);
  const auto all = fettle::decide({{driven(0.30, 0.01), driven(0.01, 0.01), driven(0.40, 0.01)}});
  EXPECT_EQ(all.cells(cell_state::still_lean), (std::vector<std::size_t>{0, 2}));
  EXPECT_NEAR(all.applied[0], 1.15, 1e-12);
}

TEST(Decide, AnErrorThatAllCellsShareHoldsLeaningBackOnly) {
  cell_evidence cell = driven(-0.05, 0.003);
  cell.common_error = 0.004;
  EXPECT_NEAR(change(cell, {}), -0.045, 1e-12);
  cell.correction = 1.05;
  EXPECT_NEAR(fettle::decide({{cell}}).applied[0], 1.05, 1e-12);
}

/// What it throws for; empty: nothing.
std::string complaint(const cell_evidence& cell, const decision_limits& limits = {}) {
  try {
    (void)fettle::decide({{driven(0, 0.01), cell}}, limits);
  } catch (const fettle::error& problem) {
    return problem.what();
  }
  return {};
}

TEST(Decide, NamesTheCellAndTheValueThatHaveNoMeaning) {
  constexpr double nan = std::numeric_limits<double>::quiet_NaN(), infinity = std::numeric_limits<double>::infinity();
  const auto with = [](auto member, double value) {
    cell_evidence cell = driven(0.01, 0.01);
    cell.*member = value;
    return cell;
  };
  for (const double bad : {nan, infinity, 0.0, -1.0}) {
    EXPECT_NE(complaint(with(&cell_evidence::standard_error, bad)).find("cell 1: the standard error"),
              std::string::npos);
    EXPECT_NE(complaint(with(&cell_evidence::correction, bad)).find("cell 1: the correction"), std::string::npos);
  }
  for (const auto member : {&cell_evidence::common_error, &cell_evidence::seconds, &cell_evidence::passes,
                            &cell_evidence::lean_end_share, &cell_evidence::agreement})
    for (const double bad : {nan, infinity, -1.0}) EXPECT_NE(complaint(with(member, bad)), "");
  EXPECT_EQ(complaint(driven(0, 0.01)), "");
}

TEST(Decide, RefusesLimitsThatHaveNoMeaning) {
  constexpr double nan = std::numeric_limits<double>::quiet_NaN();
  for (const decision_limits& bad : {decision_limits{.richer = -0.1},
                                     {.richer = nan},
                                     {.leaner = -0.1},
                                     {.leaner = 1},
                                     {.margin_errors = -1},
                                     {.margin_errors = nan},
                                     {.least_seconds = -1},
                                     {.least_agreement = 1.1},
                                     {.most_lean_end = 1.1},
                                     {.lean_tolerance = -0.01}})
    EXPECT_NE(complaint(driven(0, 0.01), bad).find("expected"), std::string::npos);
}

}  // namespace decide_test

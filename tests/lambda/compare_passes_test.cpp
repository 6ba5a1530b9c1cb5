// SPDX-License-Identifier: MIT
#include "fettle/lambda/compare_passes.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <random>
#include <vector>

namespace compare_passes_test {

using fettle::cell_evidence, fettle::compare_passes, fettle::pass_verdict, fettle::worse_reason;

// A cell that needs a fraction more fuel, known to within a standard error, both in percent.
cell_evidence needs(double more_pct, double error_pct, double passes = 10) {
  return {.correction = std::exp(more_pct / 100),
          .standard_error = error_pct / 100,
          .common_error = 0,
          .seconds = passes,
          .passes = passes};
}

TEST(ComparePasses, PredictsWhatTheCorrectionLeaves) {
  const std::vector before{needs(8, 0.5)}, after{needs(3, 0.5)};
  const std::vector applied{std::exp(0.05)};
  const auto compared = compare_passes(before, applied, after);
  EXPECT_NEAR(compared.cells[0].before, 0.08, 1e-12);
  EXPECT_NEAR(compared.cells[0].predicted, 0.03, 1e-12);
  EXPECT_NEAR(compared.cells[0].shown, 0.03, 1e-12);
  EXPECT_NEAR(compared.cells[0].standard_error, std::sqrt(0.5) / 100, 1e-12);  // root of both variances
  EXPECT_EQ(compared.cells[0].verdict, pass_verdict::as_predicted);
  EXPECT_TRUE(compared.cells[0].is_improved);
}

TEST(ComparePasses, TellsBetterFromWorseThanPredicted) {
  const std::vector before{needs(8, 0.5), needs(8, 0.5)}, after{needs(0, 0.5), needs(6, 0.5)};
  const std::vector applied{std::exp(0.05), std::exp(0.05)};
  const auto compared = compare_passes(before, applied, after);
  EXPECT_EQ(compared.cells[0].verdict, pass_verdict::better);
  EXPECT_EQ(compared.cells[1].verdict, pass_verdict::worse);
  EXPECT_EQ(compared.count(pass_verdict::worse), 1U);
  EXPECT_EQ(compared.compared(), 2U);
}

TEST(ComparePasses, ACellThatWasNotDrivenTwiceIsNotCompared) {
  const std::vector before{needs(8, 0.5), needs(8, 0.5, 0)}, after{needs(0, 0.5, 0), needs(0, 0.5)};
  const auto compared = compare_passes(before, std::vector(2, 1.0), after);
  EXPECT_EQ(compared.compared(), 0U);
  EXPECT_EQ(compared.common_shift, 0);
  EXPECT_TRUE(std::isinf(compared.common_shift_error));
}

// The intervals are those of the normal distribution: with honest errors 95 % of the cells are as predicted.
TEST(ComparePasses, HonestErrorsHoldInNineteenCellsOfTwenty) {
  std::mt19937_64 random(3);
  std::normal_distribution<double> normal;
  std::vector<cell_evidence> before, after;
  std::vector<double> applied;
  constexpr int cells = 20000;
  for (int k = 0; k < cells; ++k) {
    const double truth_pct = 5 * normal(random);
    before.push_back(needs(truth_pct + 0.8 * normal(random), 0.8));
    applied.push_back(before.back().correction);
    after.push_back(needs(truth_pct - 100 * std::log(applied.back()) + 0.6 * normal(random), 0.6));
  }
  const auto compared = compare_passes(before, applied, after);
  const double share = static_cast<double>(compared.count(pass_verdict::as_predicted)) / cells;
  EXPECT_NEAR(share, 0.95, 4 * std::sqrt(0.95 * 0.05 / cells));  // four standard deviations of a count
}

TEST(ComparePasses, NamesAShiftOfAllCellsAsTheReason) {
  std::vector<cell_evidence> before(50, needs(5, 0.4)), after(50, needs(2, 0.4));
  const std::vector applied(50, std::exp(0.05));
  const auto compared = compare_passes(before, applied, after);
  EXPECT_NEAR(compared.common_shift, 0.02, 1e-12);
  for (const auto& cell : compared.cells) {
    EXPECT_EQ(cell.verdict, pass_verdict::worse);
    EXPECT_EQ(cell.reason, worse_reason::all_cells_moved);
  }
}

TEST(ComparePasses, NamesWhatThePredictionRestedOn) {
  std::vector<cell_evidence> before(60, needs(5, 0.4)), after(60, needs(0, 0.4));
  before[0] = needs(5, 0.4, 2);
  before[1].lean_end_share = 0.5;
  before[2].agreement = 0.3;
  for (std::size_t k = 0; k < 4; ++k) after[k] = needs(6, 0.4);
  const auto compared = compare_passes(before, std::vector(60, std::exp(0.05)), after);
  EXPECT_EQ(compared.cells[0].reason, worse_reason::few_passes);
  EXPECT_EQ(compared.cells[1].reason, worse_reason::lean_end);
  EXPECT_EQ(compared.cells[2].reason, worse_reason::contradiction);
  EXPECT_EQ(compared.cells[3].reason, worse_reason::unexplained);
  EXPECT_EQ(compared.cells[4].reason, worse_reason::none);
}

TEST(ComparePasses, RefusesPassesThatDoNotFit) {
  EXPECT_THROW((void)compare_passes(std::vector{needs(0, 1)}, std::vector(2, 1.0), std::vector{needs(0, 1)}),
               fettle::error);
  EXPECT_THROW((void)compare_passes(std::vector{needs(0, 1)}, std::vector(1, 0.0), std::vector{needs(0, 1)}),
               fettle::error);
}

}  // namespace compare_passes_test

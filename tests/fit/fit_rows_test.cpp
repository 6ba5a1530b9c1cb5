// SPDX-License-Identifier: MIT
#include "fettle/fit/fit_rows.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <random>
#include <string>
#include <vector>

#include "fit/normal_matrix.hpp"
#include "reference.hpp"

namespace fit_rows_test {

using fettle::dynamic_axis;

/// Node values of a smooth curve through one sample per breakpoint.
std::vector<double> smoothed(const std::vector<double>& x, const std::vector<double>& y,
                             const std::vector<double>& weight, fettle::roughness rough, double strength) {
  const fettle::map_model model({{.axes = {*dynamic_axis<double>::from(x)}, .smooth = {{std::move(rough), strength}}}});
  fettle::sample_rows rows;
  for (std::size_t i = 0; i < x.size(); ++i) {
    rows.put(i, 1.0);
    rows.finish(y[i], weight.empty() ? 1.0 : weight[i]);
  }
  return fettle::fit_rows(model, rows).cells.value;
}

TEST(SampleRows, OrderTheirCellsAndAddUpWhatNamesOneTwice) {
  fettle::sample_rows rows;
  rows.put(7, 0.25);
  rows.put(2, 1.0);
  rows.put(7, 0.5);
  rows.finish(3.0, 2.0);
  ASSERT_EQ(rows.size(), 1U);
  EXPECT_EQ(std::vector<std::uint32_t>(rows[0].cell.begin(), rows[0].cell.end()), (std::vector<std::uint32_t>{2, 7}));
  EXPECT_EQ(std::vector<double>(rows[0].factor.begin(), rows[0].factor.end()), (std::vector<double>{1.0, 0.75}));
}

// Published: Nile flow 1871-1970 (public domain), difference penalties by R, equal to the Hodrick-Prescott filter of
// statsmodels for d = 2 (tests/reference/nile_whittaker.csv). Tolerance 1e-8 relative to the flow.
TEST(FitRowsRank1, MatchesWhittakerAndHodrickPrescottOnTheNile) {
  const auto data = reference::csv::read("nile_whittaker.csv");
  const auto year = data.column("year"), flow = data.column("y");
  struct {
    const char* column;
    std::size_t order;
    double strength;
  } const cases[] = {{"d1_10", 1, 10}, {"d2_10", 2, 10}, {"d2_1600", 2, 1600}, {"d3_1000", 3, 1000}};
  for (const auto& smoother : cases) {
    const auto fitted =
        smoothed(year, flow, {}, fettle::difference_roughness(year.size(), smoother.order), smoother.strength);
    const auto expected = data.column(smoother.column);
    for (std::size_t i = 0; i < fitted.size(); ++i)
      EXPECT_NEAR(fitted[i], expected[i], 1e-8 * expected[i]) << smoother.column << i;
  }
}

// Published: R data set cars (Ezekiel 1930), smoothers on uneven breakpoints by direct solution in R; ncs columns are
// the natural cubic smoothing spline (tests/reference/cars_smoothers.csv). Tolerance 1e-9 relative.
TEST(FitRowsRank1, MatchesSmoothersOnUnevenBreakpointsOfCars) {
  const auto data = reference::csv::read("cars_smoothers.csv");
  const auto x = data.column("x"), y = data.column("y"), weight = data.column("weight");
  const auto axis = *dynamic_axis<double>::from(x);
  const auto second = fettle::second_divided_differences(axis);
  const double span = x.back() - x.front();
  const fettle::roughness plain{second.transpose() * second, 2};
  const struct {
    const char* column;
    fettle::roughness rough;
    double strength;
  } cases[] = {{"whit_1", plain, 1},
               {"whit_100", plain, 100},
               {"whitw_100", fettle::curvature_roughness(axis), 100 / (span * span * span)},
               {"ncs_1", fettle::spline_roughness(axis), 1},
               {"ncs_100", fettle::spline_roughness(axis), 100}};
  for (const auto& smoother : cases) {
    const auto fitted = smoothed(x, y, weight, smoother.rough, smoother.strength);
    const auto expected = data.column(smoother.column);
    for (std::size_t i = 0; i < fitted.size(); ++i)
      EXPECT_NEAR(fitted[i], expected[i], 1e-9 * std::abs(expected[i])) << smoother.column << ' ' << i;
  }
}

// Published: NIST StRD problem Longley, certified estimates and standard errors (tests/reference/nist_*.csv). The seven
// coefficients are seven tables of rank 0. Tolerance 1e-9 relative, though the columns are nearly dependent.
TEST(FitRowsRank0, MatchesCertifiedLongley) {
  const auto data = reference::csv::read("nist_longley.csv");
  const std::vector<std::string> terms{"intercept",    "GNP.deflator", "GNP", "Unemployed",
                                       "Armed.Forces", "Population",   "Year"};
  const double unit[] = {1, 1, 1000, 10, 10, 1000, 1};
  const fettle::map_model model(std::vector<fettle::map_term>(terms.size()));
  fettle::sample_rows rows;
  for (const auto& row : data.rows) {
    for (std::size_t g = 0; g < terms.size(); ++g) {
      const double factor = g == 0 ? 1.0 : unit[g] * reference::csv::number(row, terms[g]);
      model.put(rows, g, std::round(factor * 10) / 10, {});
    }
    rows.finish(std::round(1000 * reference::csv::number(row, "Employed")));
  }
  const auto fitted = fettle::fit_rows(model, rows);
  EXPECT_TRUE(fitted.cells.undetermined.empty());
  std::size_t checked = 0;
  for (const auto& row : reference::csv::read("nist_certified.csv").rows) {
    if (row.at("problem") != "longley") continue;
    if (row.at("term") == "residual_sum_of_squares") {
      const double squares = reference::csv::number(row, "estimate");
      EXPECT_NEAR(fitted.cells.weighted_squares, squares, 1e-9 * squares);
      continue;
    }
    const auto g = static_cast<std::size_t>(std::find(terms.begin(), terms.end(), row.at("term")) - terms.begin());
    ASSERT_LT(g, terms.size());
    const double value = reference::csv::number(row, "estimate"), error = reference::csv::number(row, "std_error");
    EXPECT_NEAR(fitted.cells.value[g], value, 1e-9 * std::abs(value)) << terms[g];
    EXPECT_NEAR(fitted.cells.standard_error[g], error, 1e-6 * error) << terms[g];
    ++checked;
  }
  EXPECT_EQ(checked, terms.size());
}

struct polynomial {
  std::vector<double> x, y, coefficient, error;
  double squares = 0;
};
polynomial certified(const std::string& problem) {
  polynomial result;
  const auto data = reference::csv::read("nist_" + problem + ".csv");
  result.x = data.column("x");
  result.y = data.column("y");
  for (const auto& row : reference::csv::read("nist_certified.csv").rows) {
    if (row.at("problem") != problem) continue;
    const double estimate = reference::csv::number(row, "estimate");
    if (row.at("term") == "residual_sum_of_squares") {
      result.squares = estimate;
    } else {
      result.coefficient.push_back(estimate);
      result.error.push_back(reference::csv::number(row, "std_error"));
    }
  }
  return result;
}

/// Fits one number per basis function.
template <class Basis>
fettle::row_fit fit_basis(const polynomial& problem, Basis&& basis) {
  const fettle::map_model model(std::vector<fettle::map_term>(problem.coefficient.size()));
  fettle::sample_rows rows;
  for (std::size_t i = 0; i < problem.x.size(); ++i) {
    for (std::size_t k = 0; k < problem.coefficient.size(); ++k) model.put(rows, k, basis(k, problem.x[i]), {});
    rows.finish(problem.y[i]);
  }
  return fettle::fit_rows(model, rows);
}

double power(std::size_t k, double x) {
  return std::pow(x, static_cast<double>(k));
}

// Published: NIST StRD problem Pontius, a parabola of load cell readings over 0.15 .. 3 million pounds
// (tests/reference/nist_pontius.csv). Tolerance 1e-9 relative.
TEST(FitRowsRank0, MatchesCertifiedPontius) {
  const polynomial problem = certified("pontius");
  const auto fitted = fit_basis(problem, power);
  EXPECT_TRUE(fitted.cells.undetermined.empty());
  EXPECT_NEAR(fitted.cells.weighted_squares, problem.squares, 1e-9 * problem.squares);
  for (std::size_t k = 0; k < 3; ++k) {
    EXPECT_NEAR(fitted.cells.value[k], problem.coefficient[k], 1e-9 * std::abs(problem.coefficient[k])) << k;
    EXPECT_NEAR(fitted.cells.standard_error[k], problem.error[k], 1e-9 * problem.error[k]) << k;
  }
}

// Published: NIST StRD problem Filip, a polynomial of degree 10 over -9 .. -3 (tests/reference/nist_filip.csv). On
// Chebyshev polynomials the normal equations are well enough conditioned: residual squares to 1e-9 relative.
TEST(FitRowsRank0, MatchesCertifiedFilipOnChebyshevPolynomials) {
  const polynomial problem = certified("filip");
  const auto [low, high] = std::minmax_element(problem.x.begin(), problem.x.end());
  const auto fitted = fit_basis(problem, [&](std::size_t k, double x) {
    const double t = std::clamp((2 * x - *low - *high) / (*high - *low), -1.0, 1.0);
    return std::cos(static_cast<double>(k) * std::acos(t));
  });
  EXPECT_TRUE(fitted.cells.undetermined.empty());
  EXPECT_NEAR(fitted.cells.weighted_squares, problem.squares, 1e-9 * problem.squares);
}

// In plain powers of x the same problem has a matrix that doubles cannot tell from a singular one: that is said, and
// nothing is NaN.
TEST(FitRowsRank0, SaysThatFilipInPlainPowersIsUndetermined) {
  const auto fitted = fit_basis(certified("filip"), power);
  EXPECT_FALSE(fitted.cells.undetermined.empty());
  for (const double value : fitted.cells.value) EXPECT_TRUE(std::isfinite(value));
  for (const double error : fitted.cells.standard_error) EXPECT_FALSE(std::isnan(error));
}

fettle::map_model line_model() {
  return fettle::map_model({{.axes = {*dynamic_axis<double>::from({0, 1})}}});
}

TEST(FitRows, TukeyIgnoresOutliersThatPullLeastSquaresAway) {
  const auto model = line_model();
  fettle::sample_rows rows;
  for (int i = 0; i < 200; ++i) {
    const double x[] = {i / 199.0};
    model.put(rows, 0, 1.0, x);
    const double noise = 0.01 * ((i * 7919) % 13 - 6);
    rows.finish(2 + 3 * x[0] + noise + (i % 10 == 0 ? 25.0 : 0.0));
  }
  const auto plain = fettle::fit_rows(model, rows),
             robust = fettle::fit_rows(model, rows, {.loss = fettle::loss::tukey});
  EXPECT_GT(std::abs(plain.cells.value[0] - 2), 1.0);
  EXPECT_NEAR(robust.cells.value[0], 2, 0.02);
  EXPECT_NEAR(robust.cells.value[1], 5, 0.02);
  EXPECT_EQ(robust.robust_weight[0], 0.0);
  EXPECT_TRUE(robust.settled);
}

// Of normal noise: the mean weight over the mean slope, integrated by the midpoint rule in 400 000 steps outside fettle.
TEST(RobustGrowth, IsThatOfAnMEstimateOnNormalNoiseAndTwoAtMost) {
  fettle::robust_growth tukey(fettle::loss::tukey), huber(fettle::loss::huber), scattered(fettle::loss::tukey);
  for (int i = 0; i < 200; ++i)
    for (int k = 0; k < 200; ++k) {  // Box and Muller's way from even to normal draws
      const double x = std::sqrt(-2 * std::log((i + 0.5) / 200)) * std::cos(2 * std::numbers::pi * (k + 0.5) / 200);
      tukey.add(fettle::robust_weight(fettle::loss::tukey, x));
      huber.add(fettle::robust_weight(fettle::loss::huber, x));
    }
  EXPECT_NEAR(tukey.value(), 1.2076, 0.002);
  EXPECT_NEAR(huber.value(), 1.1686, 0.002);
  for (int i = 0; i < 10; ++i) scattered.add(0.3);
  EXPECT_EQ(scattered.value(), 2);
}

// Published: rlm(stack.loss ~ ., stackloss) of R's package MASS, Huber's loss, as its help page prints it (from memory;
// Brownlee's data of 1965 likewise). Its errors are P. J. Huber's of 1981 with a correction for so few samples that we
// do not make: 7 %.
TEST(FitRows, HuberOnTheStackLossDataAgreesWithMass) {
  constexpr double data[][4] = {
      {80, 27, 89, 42}, {80, 27, 88, 37}, {75, 25, 90, 37}, {62, 24, 87, 28}, {62, 22, 87, 18}, {62, 23, 87, 18},
      {62, 24, 93, 19}, {62, 24, 93, 20}, {58, 23, 87, 15}, {58, 18, 80, 14}, {58, 18, 89, 14}, {58, 17, 88, 13},
      {58, 18, 82, 11}, {58, 19, 93, 12}, {50, 18, 89, 8},  {50, 18, 86, 7},  {50, 19, 72, 8},  {50, 19, 79, 8},
      {50, 20, 80, 9},  {56, 20, 82, 15}, {70, 20, 91, 15}};
  const fettle::map_model model(std::vector<fettle::map_term>(4));
  fettle::sample_rows rows;
  for (const auto& [air, water, acid, loss] : data) {
    std::size_t term = 0;
    for (const double x : {1.0, air, water, acid}) model.put(rows, term++, x, {});
    rows.finish(loss);
  }
  const auto fitted = fettle::fit_rows(model, rows, {.loss = fettle::loss::huber, .most_rounds = 100});
  const double published[][2] = {{-41.0265, 9.8073}, {0.8294, 0.1112}, {0.9261, 0.3034}, {-0.1278, 0.1289}};
  EXPECT_NEAR(fitted.scale, 2.441, 0.001);
  for (std::size_t k = 0; k < 4; ++k) {
    const auto& [value, error] = published[k];
    EXPECT_NEAR(fitted.cells.value[k], value, 5e-3 * error) << k;
    EXPECT_NEAR(fitted.cells.standard_error[k], error, 0.07 * error) << k;
  }
}

// 600 fits of 100 samples of normal noise: the actual spread of a cell is known to 3 %.
TEST(FitRows, StatedErrorsAreThoseOfRepeatedFitsWhateverTheLoss) {
  const auto model = line_model();
  for (const auto loss : {fettle::loss::squares, fettle::loss::huber, fettle::loss::tukey}) {
    std::mt19937 random{7};
    std::normal_distribution<double> normal;
    double squares = 0, stated = 0, noise = 0;
    constexpr int fits = 600;
    for (int fit = 0; fit < fits; ++fit) {
      fettle::sample_rows rows;
      for (int i = 0; i < 100; ++i) {
        const double x[] = {i / 99.0};
        model.put(rows, 0, 1.0, x);
        rows.finish(5 + normal(random));
      }
      const auto fitted = fettle::fit_rows(model, rows, {.loss = loss}).cells;
      squares += (fitted.value[0] - 5) * (fitted.value[0] - 5) / fits;
      stated += fitted.standard_error[0] / fits;
      noise += std::sqrt(fitted.noise_variance) / fits;
    }
    EXPECT_NEAR(stated / std::sqrt(squares), 1, 0.07) << static_cast<int>(loss);
    EXPECT_NEAR(noise, 1, 0.04) << static_cast<int>(loss);
  }
}

// Textbook: the mean of two readings, their variance (n - 1 in the denominator) and the standard error of the mean.
TEST(FitRowsRank0, OneReadingMoreThanCellsGivesTheNoise) {
  const fettle::map_model model(std::vector<fettle::map_term>(1));
  fettle::sample_rows rows;
  for (const double value : {1.0, 3.0}) {
    model.put(rows, 0, 1.0, {});
    rows.finish(value);
  }
  const auto fitted = fettle::fit_rows(model, rows).cells;
  EXPECT_NEAR(fitted.value[0], 2, 1e-12);
  EXPECT_NEAR(fitted.noise_variance, 2, 1e-12);
  EXPECT_NEAR(fitted.standard_error[0], 1, 1e-12);
}

TEST(FitRows, EndsWithItsLastRoundAndSaysThatItWasStillMoving) {
  const auto model = line_model();
  fettle::sample_rows rows;
  for (int i = 0; i < 10; ++i) {
    const double x[] = {i / 9.0};
    model.put(rows, 0, 1.0, x);
    rows.finish(i == 3 ? 100.0 : 5.0 + 0.1 * (i % 3));
  }
  const auto plain = fettle::fit_rows(model, rows);
  for (const int most : {0, 1}) {  // the first round weighs all alike
    const auto once = fettle::fit_rows(model, rows, {.loss = fettle::loss::tukey, .most_rounds = most});
    EXPECT_EQ(once.cells.value, plain.cells.value) << most;
    EXPECT_FALSE(once.settled) << most;
  }
  EXPECT_NE(fettle::fit_rows(model, rows, {.loss = fettle::loss::tukey, .most_rounds = 2}).cells.value,
            plain.cells.value);
}

TEST(FitRows, SamplesOfNoWeightSayNothing) {
  const auto model = line_model();
  fettle::sample_rows some, more;
  for (int i = 0; i < 100; ++i) {
    const double x[] = {i / 99.0}, noise = 0.01 * ((i * 7919) % 13 - 6);
    const double value = 10 + noise + (i % 10 == 0 ? 100.0 : 0.0);
    for (auto* rows : {&some, &more}) {
      model.put(*rows, 0, 1.0, x);
      rows->finish(value);
    }
    for (int k = 0; k < 3; ++k) {
      model.put(more, 0, 1.0, x);
      more.finish(-70, 0);
    }
  }
  const auto fitted = fettle::fit_rows(model, some, {.loss = fettle::loss::tukey}),
             same = fettle::fit_rows(model, more, {.loss = fettle::loss::tukey});
  EXPECT_NEAR(fitted.cells.value[0], 10, 0.05);
  EXPECT_EQ(same.cells.value, fitted.cells.value);
  EXPECT_EQ(same.cells.standard_error, fitted.cells.standard_error);
  EXPECT_EQ(same.scale, fitted.scale);
}

TEST(FitRows, NamesCellsThatNothingDetermines) {
  const fettle::map_model model({{.axes = {*dynamic_axis<double>::from({0, 1, 2, 3})}, .prior = {7, 7, 7, 7}}});
  fettle::sample_rows rows;
  for (const double x : {0.0, 1.0}) {
    model.put(rows, 0, 1.0, std::span(&x, 1));
    rows.finish(1.0 + x);
  }
  const auto fitted = fettle::fit_rows(model, rows).cells;
  EXPECT_EQ(fitted.undetermined, (std::vector<std::size_t>{2, 3}));
  EXPECT_NEAR(fitted.value[0], 1, 1e-9);
  EXPECT_NEAR(fitted.value[1], 2, 1e-9);
  EXPECT_EQ(fitted.value[2], 7);
  EXPECT_TRUE(std::isinf(fitted.standard_error[3]));
}

TEST(FitRows, NamesBothCellsThatTheDataCannotTellApart) {
  const auto model = line_model();
  fettle::sample_rows rows;
  const double middle = 0.5;
  for (int i = 0; i < 10; ++i) {
    model.put(rows, 0, 1.0, std::span(&middle, 1));
    rows.finish(1.0);
  }
  EXPECT_EQ(fettle::fit_rows(model, rows).cells.undetermined, (std::vector<std::size_t>{0, 1}));
}

TEST(FitRows, AnswersWithThePriorWhenThereAreNoSamples) {
  const fettle::map_model model({{.axes = {*dynamic_axis<double>::from({0, 1})}, .prior = {3, 4}}});
  const auto fitted = fettle::fit_rows(model, {}).cells;
  EXPECT_EQ(fitted.undetermined.size(), 2U);
  EXPECT_EQ(fitted.value, (std::vector<double>{3, 4}));
}

TEST(FitRows, RefusesASampleThatIsNotFinite) {
  const auto model = line_model();
  fettle::sample_rows rows;
  rows.put(0, 1.0);
  rows.finish(1.0);
  rows.put(1, 1.0);
  rows.finish(std::numeric_limits<double>::quiet_NaN());
  try {
    (void)fettle::fit_rows(model, rows);
    FAIL();
  } catch (const fettle::error& refusal) {
    EXPECT_NE(std::string(refusal.what()).find("sample 1"), std::string::npos);
  }
}

TEST(Evidence, MergedPartsEqualTheWholeInAnyEnvelope) {
  std::vector<dynamic_axis<double>> axes{*dynamic_axis<double>::from({0, 1, 2}),
                                         *dynamic_axis<double>::from({0, 2, 3, 4})};
  const fettle::map_model model({{.axes = axes}});
  fettle::sample_rows rows;
  for (int i = 0; i < 64; ++i) {
    const double x[] = {(i * 37 % 64) / 32.0, (i * 23 % 64) / 16.0};
    model.put(rows, 0, 0.5, x);
    rows.finish(i % 7);
  }
  fettle::evidence whole(model.cells()), left(model.cells()), right(model.cells());
  for (std::size_t i = 0; i < rows.size(); ++i) {
    whole.add(rows[i].cell, rows[i].factor, rows[i].value, 1);
    (i < 20 ? left : right).add(rows[i].cell, rows[i].factor, rows[i].value, 1);
  }
  left.merge(right);
  EXPECT_EQ(left.samples(), whole.samples());
  const Eigen::MatrixXd a = normal_matrix(whole), b = normal_matrix(left);
  EXPECT_LT((a - b).cwiseAbs().maxCoeff(), 1e-14);
  EXPECT_THROW(left.merge(fettle::evidence(3)), fettle::error);
}

}  // namespace fit_rows_test

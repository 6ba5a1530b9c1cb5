// SPDX-License-Identifier: MIT
#include "fettle/map/adapt.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>
#include <limits>
#include <memory>
#include <random>
#include <vector>

#include "draws.hpp"
#include "fettle/map/axis.hpp"
#include "fettle/map/place.hpp"
#include "reference.hpp"

namespace adapt_test {

constexpr fettle::axis<double, 5> compression{{7.5, 9, 12, 15, 18}};
constexpr fettle::axis<double, 7> equivalence{{0.5, 0.7, 0.8, 0.9, 1, 1.1, 1.25}};
constexpr std::size_t cells = 35;

struct sample {
  fettle::stencil<2, double> at;
  double nox;
};

/// The 88 engine points of Brinkman (1981) as in R package lattice, on the grid of the reference file.
std::vector<sample> ethanol() {
  std::vector<sample> samples;
  const std::array axes{compression.view(), equivalence.view()};
  for (const auto& row : reference::csv::read("ethanol.csv").rows) {
    const auto number = [&](const char* name) { return reference::csv::number(row, name); };
    const std::array places{fettle::locate(axes[0], number("C")), fettle::locate(axes[1], number("E"))};
    samples.push_back({fettle::stencil_at(axes, places), number("NOx")});
  }
  return samples;
}

// Published: batch least squares in R after 20, 50 and 88 samples, with and without forgetting
// (tests/reference/rls_table_states.csv); the cells and their variances to 1e-7.
TEST(Adapt, WithAllCovariancesEqualsBatchLeastSquares) {
  const auto samples = ethanol();
  const auto states = reference::csv::read("rls_table_states.csv");
  for (const double forgetting : {1.0, 0.99}) {
    std::array<double, cells> theta{};
    auto p = std::make_unique<fettle::cell_covariance<double, cells>>(100.0);
    std::size_t compared = 0;
    for (std::size_t k = 0; k < samples.size(); ++k) {
      ASSERT_TRUE(fettle::adapt(theta.data(), *p, samples[k].at, samples[k].nox, {.forgetting = forgetting}));
      for (const auto& row : states.rows) {
        const auto number = [&](const char* name) { return reference::csv::number(row, name); };
        if (number("forget") != forgetting || static_cast<std::size_t>(number("after")) != k + 1) continue;
        const auto cell = static_cast<std::size_t>(number("cell"));
        EXPECT_NEAR(theta[cell], number("theta"), 1e-7);
        EXPECT_NEAR((*p)(cell, cell), number("variance"), 1e-7 * std::max(1.0, number("variance")));
        ++compared;
      }
    }
    EXPECT_EQ(compared, 3 * cells);
  }
}

TEST(Adapt, DoesNotWindUpCellsAtTheirCap) {
  std::array<double, cells> theta{};
  auto p = std::make_unique<fettle::cell_covariance<double, cells>>(100.0);
  for (const auto& s : ethanol())
    ASSERT_TRUE(fettle::adapt(theta.data(), *p, s.at, s.nox, {.forgetting = 0.99, .variance_cap = 100.0}));
  for (std::size_t i = 0; i < cells; ++i) EXPECT_LE((*p)(i, i), 100.0 + 1e-9);
}

/// Root mean square of what a map leaves of the samples.
double rms_left(const std::array<double, cells>& theta, const std::vector<sample>& samples) {
  double sum = 0;
  for (const auto& s : samples) sum += std::pow(s.nox - fettle::detail::predicted(theta.data(), s.at), 2);
  return std::sqrt(sum / static_cast<double>(samples.size()));
}

// What the local form costs, on the ethanol data: a map learned in one pass, and after ten.
TEST(Adapt, LocalFormLosesLittleAgainstTheFullOne) {
  const auto samples = ethanol();
  std::array<double, cells> full{}, local{}, variances;
  variances.fill(100);
  auto p = std::make_unique<fettle::cell_covariance<double, cells>>(100.0);
  double after_one_pass = 0;
  for (int pass = 0; pass < 10; ++pass) {
    for (const auto& s : samples) {
      ASSERT_TRUE(fettle::adapt(full.data(), *p, s.at, s.nox, {.noise_variance = 0.04}));
      ASSERT_TRUE(fettle::adapt(local.data(), variances.data(), s.at, s.nox, {.noise_variance = 0.04}));
    }
    if (pass == 0) after_one_pass = rms_left(local, samples);
  }
  const double least = std::sqrt(1.27158132 / 88);  // of any map on this grid: ethanol_table_fit_scores.csv
  EXPECT_NEAR(rms_left(full, samples), least, 1e-3 * least);
  EXPECT_NEAR(after_one_pass / least, 1.29, 0.01);
  EXPECT_NEAR(rms_left(local, samples) / least, 1.004, 0.001);
}

RC_GTEST_PROP(Adapt, LocalFormTouchesOnlyTheCellsAroundThePoint, ()) {
  const std::array axes{compression.view(), equivalence.view()};
  const std::array places{fettle::locate(axes[0], draws::real(5.0, 20.0)),
                          fettle::locate(axes[1], draws::real(0.0, 2.0))};
  const auto at = fettle::stencil_at(axes, places);
  std::array<double, cells> theta{}, variances;
  variances.fill(4);
  const double measured = draws::real(-5.0, 5.0);
  const auto residual = fettle::adapt(theta.data(), variances.data(), at, measured, {.forgetting = 0.9});
  RC_ASSERT(residual.has_value());
  RC_ASSERT(*residual == measured);
  for (std::size_t i = 0; i < cells; ++i) {
    double weight = 0;
    for (std::size_t k = 0; k < at.size; ++k) weight += at.cell[k] == i ? at.weight[k] : 0;
    if (weight == 0) RC_ASSERT(theta[i] == 0 && variances[i] == 4);
    if (weight > 0) RC_ASSERT(variances[i] < 4 / 0.9 && theta[i] * measured >= 0);
  }
  const double after = std::abs(measured - fettle::detail::predicted(theta.data(), at));
  RC_ASSERT(after <= std::abs(measured) + 1e-12);
}

TEST(Adapt, LocalFormConvergesToAMapThatMadeTheData) {
  const std::array axes{compression.view(), equivalence.view()};
  std::array<double, cells> truth, learned{}, variances;
  for (std::size_t i = 0; i < cells; ++i) truth[i] = std::sin(static_cast<double>(i));
  variances.fill(1);
  for (int k = 0; k < 40000; ++k) {  // a low-discrepancy walk over the whole map
    const double x = 7.5 + 10.5 * std::fmod(k * 0.7548776662466927, 1),
                 y = 0.5 + 0.75 * std::fmod(k * 0.5698402909980532, 1);
    const std::array places{fettle::locate(axes[0], x), fettle::locate(axes[1], y)};
    const auto at = fettle::stencil_at(axes, places);
    // a cell's weight is 1/4 in the mean, so it forgets 1/4 as fast: about 0.98 per visit
    ASSERT_TRUE(fettle::adapt(learned.data(), variances.data(), at, fettle::detail::predicted(truth.data(), at),
                              {.noise_variance = 0.01, .forgetting = 0.92, .variance_cap = 1.0}));
  }
  for (std::size_t i = 0; i < cells; ++i) EXPECT_NEAR(learned[i], truth[i], 1e-6) << i;
}

constexpr fettle::axis<float, 2> ends{{0, 1}};
fettle::stencil<1, float> between_ends(float x) {
  return fettle::stencil_at(std::array{ends.view()}, std::array{fettle::locate(ends.view(), x)});
}

// Arithmetic: one cell alone, at the end of its axis, is the exponentially weighted mean of its measurements and, with
// the weight of the starting variance, of what it held. The start is 10^8 times less sure than a measurement: more than
// float can tell apart. To 1e-5 of the value and 1e-4 of the variance: 5000 roundings at random, fading over 1000.
TEST(Adapt, InFloatFollowsFromAStartThatIsAsGoodAsUnknown) {
  const fettle::adapt_settings<float> how{.noise_variance = 1e-4F, .forgetting = 0.999F};
  float full[] = {1, 1}, local[] = {1, 1}, variances[] = {1e4F, 1e4F};
  fettle::cell_covariance<float, 2> p(1e4F);
  double evidence = 1e-4, sum = 1e-4 * 1;
  std::mt19937 random(1);
  for (int i = 0; i < 5000; ++i) {
    const double noise = 0.02 * (static_cast<double>(random()) / 4294967296.0 - 0.5);
    const auto measured = static_cast<float>((i < 2500 ? 1.2 : 1.4) + noise);
    ASSERT_TRUE(fettle::adapt(full, p, between_ends(-0.1F), measured, how));
    ASSERT_TRUE(fettle::adapt(local, variances, between_ends(-0.1F), measured, how));
    const auto f = static_cast<double>(how.forgetting), weight = 1 / static_cast<double>(how.noise_variance);
    evidence = f * evidence + weight;
    sum = f * sum + weight * static_cast<double>(measured);
    if (i != 0 && i != 2499 && i != 4999) continue;
    EXPECT_NEAR(static_cast<double>(local[0]), sum / evidence, 1e-5) << i;
    EXPECT_NEAR(static_cast<double>(variances[0]) * evidence, 1, 1e-4) << i;
    if (i == 0) continue;  // the first is weighed against 8 epsilon of the start, a hundredfold of its noise
    EXPECT_NEAR(static_cast<double>(full[0]), sum / evidence, 1e-5) << i;
    EXPECT_NEAR(static_cast<double>(p(0, 0)) * evidence, 1, 1e-4) << i;
  }
}

// Exact measurements of a flat map through random weights, many of them near the ends, from a start 10^9 times less
// sure than they are.
TEST(Adapt, InFloatNeverGoesAstrayFromAStartThatIsAsGoodAsUnknown) {
  std::mt19937 random(7);
  for (int run = 0; run < 2000; ++run) {
    float full[] = {0, 0}, local[] = {0, 0}, variances[] = {1e6F, 1e6F};
    fettle::cell_covariance<float, 2> p(1e6F);
    for (int i = 0; i < 20; ++i) {
      float x = static_cast<float>(random() >> 8U) / 16777216.0F;
      if (random() % 2 == 0) x *= 1e-3F;
      ASSERT_TRUE(fettle::adapt(full, p, between_ends(x), 1.0F, {.noise_variance = 1e-3F}));
      ASSERT_TRUE(fettle::adapt(local, variances, between_ends(x), 1.0F, {.noise_variance = 1e-3F}));
      for (std::size_t cell = 0; cell < 2; ++cell) {
        ASSERT_GT(p(cell, cell), 0) << run;
        ASSERT_GT(variances[cell], 0) << run;
        ASSERT_LT(std::abs(full[cell]), 100) << run;
        ASSERT_LT(std::abs(local[cell]), 100) << run;
      }
    }
  }
}

/// However it began, after any measurements a variance is above 0, so that the next one still moves the cell.
template <class T>
void never_freezes() {
  const fettle::axis<T, 3> x_axis{{0, 1, 3}}, y_axis{{0, 2, 3}};
  const std::array axes{x_axis.view(), y_axis.view()};
  const T prior = std::pow(T{10}, draws::real<T>(-3, 12));
  const fettle::adapt_settings<T> how{.noise_variance = std::pow(T{10}, draws::real<T>(-6, 2)),
                                      .forgetting = draws::real<T>(T{0.90625}, 1),
                                      .drift_variance = *rc::gen::element(T{0}, T{0x1p-20}),
                                      .variance_cap = prior};
  std::array<T, 9> full{}, local{}, variances;
  variances.fill(prior);
  fettle::cell_covariance<T, 9> p(prior);
  const auto& all = p;
  const auto coordinate = [] {
    const T x = draws::real<T>(T{-0.5}, T{3.5});
    return *rc::gen::element(x, std::round(x), std::round(x) + T{0x1p-10} * x, std::round(x) - T{0x1p-20} * x);
  };
  for (int i = 0; i < 40; ++i) {
    const std::array places{fettle::locate(axes[0], coordinate()), fettle::locate(axes[1], coordinate())};
    const auto at = fettle::stencil_at(axes, places);
    const T measured = draws::real<T>(-1, 1);
    RC_ASSERT(fettle::adapt(full.data(), p, at, measured, how).has_value());
    RC_ASSERT(fettle::adapt(local.data(), variances.data(), at, measured, how).has_value());
    for (std::size_t cell = 0; cell < 9; ++cell) {
      RC_ASSERT(variances[cell] > T{0} && variances[cell] <= prior);
      RC_ASSERT(all(cell, cell) > T{0});
      for (std::size_t other = 0; other < cell; ++other) RC_ASSERT(all(cell, other) == p(other, cell));
    }
  }
}
RC_GTEST_PROP(Adapt, VariancesStayAbove0HoweverLargeTheyBeginInFloat, ()) {
  never_freezes<float>();
}
RC_GTEST_PROP(Adapt, VariancesStayAbove0HoweverLargeTheyBeginInDouble, ()) {
  never_freezes<double>();
}

TEST(Adapt, DriftLiftsCellsThatAreNotVisitedToTheirCap) {
  float values[] = {1, 1};
  fettle::cell_covariance<float, 2> p(0.25F);
  for (const float variance : {0.75F, 1.0F, 1.0F}) {
    ASSERT_TRUE(fettle::adapt(values, p, between_ends(0), 1.0F, {.drift_variance = 0.5F, .variance_cap = 1}));
    EXPECT_EQ(p(1, 1), variance);
  }
}

TEST(Adapt, LocalFormHardlyForgetsWhatItHardlyTouches) {
  float values[] = {1, 1}, variances[] = {1, 1};
  for (int i = 0; i < 5000; ++i)
    ASSERT_TRUE(fettle::adapt(values, variances, between_ends(1e-5F), 1.0F,
                              {.noise_variance = 1e-4F, .forgetting = 0.99F, .drift_variance = 1e-3F}));
  EXPECT_LT(variances[1], 1.001F);  // without evidence at most 5000 * 1e-5 * (1 / 0.99 - 1 + 1e-3) more
}

TEST(Adapt, TakesNothingThatIsNotANumber) {
  const std::array axes{compression.view(), equivalence.view()};
  const double nan = std::numeric_limits<double>::quiet_NaN(), inf = std::numeric_limits<double>::infinity();
  const std::array places{fettle::locate(axes[0], 8.0), fettle::locate(axes[1], 0.6)};
  const std::array nowhere{fettle::locate(axes[0], nan), places[1]};
  std::array<double, cells> theta{}, variances;
  variances.fill(1);
  auto p = std::make_unique<fettle::cell_covariance<double, cells>>(1.0);
  for (const double bad : {nan, inf, -inf}) {
    EXPECT_FALSE(fettle::adapt(theta.data(), variances.data(), fettle::stencil_at(axes, places), bad));
    EXPECT_FALSE(fettle::adapt(theta.data(), *p, fettle::stencil_at(axes, places), bad));
  }
  EXPECT_FALSE(fettle::adapt(theta.data(), variances.data(), fettle::stencil_at(axes, nowhere), 1.0));
  EXPECT_FALSE(fettle::adapt(theta.data(), *p, fettle::stencil_at(axes, nowhere), 1.0));
  for (std::size_t i = 0; i < cells; ++i) EXPECT_TRUE(theta[i] == 0 && variances[i] == 1 && (*p)(i, i) == 1);
}

// Whoever knows nothing of a cell may say so by an infinite variance.
TEST(Adapt, TakesAVarianceThatIsNotFiniteForTheLargest) {
  const fettle::stencil<1, float> between{{0, 1}, {0.25F, 0.75F}};
  constexpr float inf = std::numeric_limits<float>::infinity();
  for (const float unknown : {inf, std::numeric_limits<float>::quiet_NaN()}) {
    float values[] = {1, 1}, variances[] = {unknown, unknown};
    ASSERT_TRUE(fettle::adapt(values, variances, between, 2.0F));
    EXPECT_NEAR(0.25F * values[0] + 0.75F * values[1], 2.0F, 1e-5F);
    EXPECT_LT(variances[1], inf);
    float others[] = {1, 1};
    fettle::cell_covariance<float, 2> p(unknown);
    ASSERT_TRUE(fettle::adapt(others, p, between, 2.0F));
    EXPECT_NEAR(0.25F * others[0] + 0.75F * others[1], 2.0F, 1e-5F);
  }
}

constexpr bool adapts_in_constant_expressions() {
  constexpr fettle::axis<float, 2> axis{{0, 1}};
  float values[] = {0, 0}, variances[] = {1, 1};
  const auto at = fettle::stencil_at(std::array{axis.view()}, std::array{fettle::locate(axis.view(), 0.0F)});
  const auto residual = fettle::adapt(values, variances, at, 1.0F);
  return *residual == 1.0F && values[0] == 0.5F && values[1] == 0.0F && variances[0] == 0.5F && variances[1] == 1.0F;
}
static_assert(adapts_in_constant_expressions());

}  // namespace adapt_test

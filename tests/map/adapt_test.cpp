// SPDX-License-Identifier: MIT
#include "fettle/map/adapt.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>
#include <limits>
#include <memory>
#include <vector>

#include "draws.hpp"
#include "fettle/map/axis.hpp"
#include "fettle/map/place.hpp"
#include "reference.hpp"

namespace {

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
    ASSERT_TRUE(fettle::adapt(learned.data(), variances.data(), at, fettle::detail::predicted(truth.data(), at),
                              {.noise_variance = 0.01, .forgetting = 0.98, .variance_cap = 1.0}));
  }
  for (std::size_t i = 0; i < cells; ++i) EXPECT_NEAR(learned[i], truth[i], 1e-6) << i;
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

constexpr bool adapts_in_constant_expressions() {
  constexpr fettle::axis<float, 2> axis{{0, 1}};
  float values[] = {0, 0}, variances[] = {1, 1};
  const auto at = fettle::stencil_at(std::array{axis.view()}, std::array{fettle::locate(axis.view(), 0.0F)});
  const auto residual = fettle::adapt(values, variances, at, 1.0F);
  return *residual == 1.0F && values[0] == 0.5F && values[1] == 0.0F && variances[0] == 0.5F && variances[1] == 1.0F;
}
static_assert(adapts_in_constant_expressions());

}  // namespace

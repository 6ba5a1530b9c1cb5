// SPDX-License-Identifier: MIT
#include "fettle/fuel/need.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>

#include "draws.hpp"

namespace need_test {

constexpr fettle::air_state<double> reference{100, 25};

// Closed form, checked with R 4.2: eta_v 0.9, 100 kPa, 500 cm3, 298.15 K, R = 287.05 J/(kg K) give 525.799 mg of air.
TEST(Need, OfASpeedDensityMapIsTheAirOverTheStoichiometricRatio) {
  const fettle::map_basis<double> basis{
      .meaning = fettle::map_meaning::ve_pct, .air = {reference}, .stoichiometric_afr = 14.6, .swept_cm3 = 500};
  EXPECT_NEAR(fettle::need_mg(basis, 90.0, reference, 1.0), 525.799 / 14.6, 0.5e-3 / 14.6);
  EXPECT_NEAR(fettle::need_mg(basis, 90.0, {40, 60}, 1.0),
              fettle::speed_density_mg(0.9, fettle::air_state<double>{40, 60}, 500.0) / 14.6, 1e-12);
}

TEST(Need, OfAFuelMapFollowsDensityAndTheFactorsOfTheController) {
  const fettle::map_basis<double> basis{.air = {reference}};
  EXPECT_NEAR(fettle::need_mg(basis, 20.0, {90, 25}, 1.1), 20 * 0.9 * 1.1, 1e-12);
  EXPECT_NEAR(fettle::need_mg(basis, 20.0, {100, 55}, 1.0), 20 * 298.15 / 328.15, 1e-12);
}

TEST(Need, OfAPulseMapCountsTheFlowOfItsInjector) {
  const fettle::map_basis<double> basis{
      .meaning = fettle::map_meaning::pulse_ms, .air = {reference}, .flow_mg_per_ms = 4};
  EXPECT_NEAR(fettle::need_mg(basis, 5.0, reference, 1.0), 20, 1e-12);
}

// Closed form: sqrt(0.9), sqrt(1.5/1.25).
TEST(AirFactor, FollowsItsExponents) {
  EXPECT_NEAR(fettle::air_factor<double>({reference, 0.5, 1}, {90, 25}), 0.948683298050514, 1e-14);
  EXPECT_NEAR(fettle::air_factor<double>({{100, 1.5 * 273.15 - 273.15}, 1, 0.5}, {100, 1.25 * 273.15 - 273.15}),
              1.095445115010332, 1e-14);
  EXPECT_EQ(fettle::air_factor<double>({reference, 0, 0}, {80, 60}), 1);
  EXPECT_TRUE(std::isnan(fettle::air_factor<double>({reference, 0.5, 1}, {-1, 25})));
  EXPECT_TRUE(std::isnan(fettle::air_factor<double>({reference}, {100, -300})));
}

TEST(Asked, IsTheNeedForTheCommandedLambdaTrimmedByTheLoop) {
  EXPECT_NEAR(fettle::asked_mg(18.0, 0.9, 0.0), 20, 1e-12);
  EXPECT_NEAR(fettle::asked_mg(18.0, 0.9, -5.0), 19, 1e-12);
}

// The oracle is the C library's pow; the compile-time series are called through their own names.
RC_GTEST_PROP(Power, OfConstantExpressionsIsTheLibrarysToRounding, ()) {
  const double base = draws::between<double>(0.2, 5), exponent = draws::between<double>(-2, 2);
  const double series = fettle::detail::series_exp(exponent * fettle::detail::series_log(base));
  RC_ASSERT(std::abs(series / std::pow(base, exponent) - 1) < 1e-14);
}

static_assert(fettle::need_mg<float>({.air = {{100, 25}}}, 20, {100, 25}, 1) == 20.0F);
static_assert(fettle::air_factor<double>({{100, 25}, 0.5, 1}, {81, 25}) > 0.9 - 1e-14 &&
              fettle::air_factor<double>({{100, 25}, 0.5, 1}, {81, 25}) < 0.9 + 1e-14);

}  // namespace need_test

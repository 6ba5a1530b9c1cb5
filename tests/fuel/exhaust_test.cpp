// SPDX-License-Identifier: MIT
#include "fettle/fuel/exhaust.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "reference.hpp"

namespace exhaust_test {

// Computed: gases balanced element by element with the water-gas constant 3.5
// (tests/reference/lambda_from_exhaust.csv). The formula of J. Brettschneider, Bosch Techn. Berichte 6 (1979) no. 4,
// 177-186, read as gas-analyser papers quote it, is an identity for them; constant 3.5 as in 40 CFR 86.345-79.
TEST(LambdaFromExhaust, ReturnsTheLambdaOfElementBalancedGases) {
  for (const auto& row : reference::csv::read("lambda_from_exhaust.csv").rows) {
    const auto number = [&](const char* name) { return reference::csv::number(row, name); };
    const fettle::fuel<double> burned{1, number("H_per_C"), number("O_per_C"), 1};
    const auto lambda = fettle::lambda_from_exhaust<double>({.carbon_dioxide = number("co2"),
                                                             .carbon_monoxide = number("co"),
                                                             .oxygen = number("o2"),
                                                             .unburned_carbon = number("hc_c1")},
                                                            burned);
    ASSERT_TRUE(lambda);
    EXPECT_NEAR(*lambda, number("lambda"), 1e-9);
  }
}

// The unit of the gas bench drops out, and so does the unit in which atoms are counted.
TEST(LambdaFromExhaust, DoesNotDependOnTheUnitOfTheGas) {
  const auto percent = fettle::lambda_from_exhaust<double>({12.88, 3.687, 0.1, 0.05, 0.06}, {1, 1.85, 0, 1});
  const auto fraction = fettle::lambda_from_exhaust<double>({0.1288, 0.03687, 0.001, 0.0005, 0.0006}, {8, 14.8, 0, 1});
  EXPECT_NEAR(*percent, *fraction, 1e-14);
}

TEST(LambdaFromExhaust, RefusesWhatIsNoExhaust) {
  const fettle::fuel<double> petrol{1, 1.85, 0, 1};
  EXPECT_FALSE((fettle::lambda_from_exhaust<double>({-1, 1, 0, 0, 0}, petrol)));
  EXPECT_FALSE((fettle::lambda_from_exhaust<double>({0, 0, 20.9, 0, 0}, petrol)));
  EXPECT_FALSE((fettle::lambda_from_exhaust<double>({12, std::nan(""), 0, 0, 0}, petrol)));
  EXPECT_FALSE((fettle::lambda_from_exhaust<double>({12, 1, 0, 0, 0}, {0, 2, 0, 1})));
  EXPECT_FALSE((fettle::lambda_from_exhaust<double>({12, 1, 0, 0, 0}, {1, 0, 2, 1})));  // burned already
  EXPECT_FALSE((fettle::lambda_from_exhaust<double>({12, 1, 0, 0, 0}, {1, std::nan(""), 0, 1})));
  EXPECT_TRUE((fettle::lambda_from_exhaust<double>({0, 1, 0, 0, 0}, petrol)));
}

static_assert(fettle::lambda_from_exhaust<float>({.carbon_dioxide = 15}, {1, 1.85F, 0, 1}) == 1.0F);
static_assert(fettle::lambda_from_exhaust<float>({15, 0, 0, 0, 0}, {1, 1.85F, 0, 1}) == 1.0F);

}  // namespace exhaust_test

// SPDX-License-Identifier: MIT
#include "fettle/fuel/mixture.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>

#include "draws.hpp"

namespace mixture_test {

// Computed by element conservation: four gases of unequal air; the plain air-weighted mean of lambda would be 0.978000.
TEST(Collector, AveragesPhiByAirAndNotLambda) {
  const double air[]{0.26, 0.25, 0.24, 0.25}, phi[]{1.00, 1.10, 0.95, 1.05};
  EXPECT_NEAR(fettle::collector_phi(air, phi, 4), 1.025500, 1e-12);
  double lambda[4], mean_lambda = 0;
  for (int i = 0; i < 4; ++i) mean_lambda += air[i] * (lambda[i] = fettle::lambda_from_phi(phi[i]));
  EXPECT_NEAR(fettle::collector_lambda(air, lambda, 4), 0.975134, 0.5e-6);
  EXPECT_NEAR(mean_lambda, 0.978000, 0.5e-6);
}

// The fuel of all cylinders over the air of all: what the mixed gas must hold.
RC_GTEST_PROP(Collector, HoldsTheFuelAndAirOfAllCylinders, ()) {
  double air[5], lambda[5], phi[5], fuel_mg = 0, air_mg = 0;
  const double afr = draws::between<double>(6, 17);
  for (int i = 0; i < 5; ++i) {
    air[i] = draws::between<double>(50, 700);
    lambda[i] = draws::between<double>(0.6, 1.6);
    phi[i] = fettle::phi_from_lambda(lambda[i]);
    fuel_mg += fettle::fuel_for_air(air[i], lambda[i], afr);
    air_mg += air[i];
  }
  const double expected = fettle::lambda_from_afr(air_mg / fuel_mg, afr);
  RC_ASSERT(std::abs(fettle::collector_lambda(air, lambda, 5) - expected) <= 1e-14 * 4);
  RC_ASSERT(std::abs(1 / fettle::collector_phi(air, phi, 5) - expected) <= 1e-14 * 4);
}

TEST(Collector, PassesNaNOn) {
  const double air[]{1, 1}, phi[]{1, std::nan("")};
  EXPECT_TRUE(std::isnan(fettle::collector_phi(air, phi, 2)));
  EXPECT_TRUE(std::isnan(fettle::collector_lambda(air, phi, 0)));
}

static_assert(fettle::afr_from_lambda(0.5F, 14.0F) == 7.0F);
static_assert(fettle::lambda_from_afr(7.0F, 14.0F) == 0.5F);
static_assert(fettle::fuel_for_air(700.0F, 0.5F, 14.0F) == 100.0F);

}  // namespace mixture_test

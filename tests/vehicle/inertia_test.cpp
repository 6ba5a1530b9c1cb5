// SPDX-License-Identifier: MIT
#include "fettle/vehicle/inertia.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>

#include "draws.hpp"

namespace inertia_test {

using part = fettle::round_part<double>;

// Disc m r^2/2, ring m (ro^2 + ri^2)/2: any handbook of mechanics. 8 kg and 0.13 m, worked by hand: 0.0676, and with a
// hole of 0.06 m 0.082 kg m^2, exact to the digits.
TEST(Inertia, OfDiscAndRingIsThatOfTheHandbooks) {
  EXPECT_NEAR(fettle::inertia_kgm2(part{8, 0.13}), 0.0676, 1e-15);
  EXPECT_NEAR(fettle::inertia_kgm2(part{8, 0.13, 0.06}), 0.0820, 1e-15);
}

// R. G. Budynas, J. K. Nisbett, "Shigley's Mechanical Engineering Design", solution of problems 16-26 and 16-27:
// I_M + I_P + n^2 I_P + I_L/n^2 = 10 + 1 + 10^2 * 1 + 100/10^2 = 112, printed exactly.
TEST(Inertia, ThroughGearsIsThatOfShigleysProblem) {
  const double n = 10;
  EXPECT_DOUBLE_EQ(10 + 1 + fettle::inertia_at_driven(1.0, n) + fettle::inertia_at_driver(100.0, n), 112);
}

RC_GTEST_PROP(Inertia, ThroughGearsAndBackIsItself, ()) {
  const double j = draws::between(0, 10), ratio = draws::between(0.1, 20);
  const double back = fettle::inertia_at_driver(fettle::inertia_at_driven(j, ratio), ratio);
  RC_ASSERT(std::abs(back - j) <= 1e-15 * j);
}

// A disc of radius ro is the ring around its hole and the disc in it, of the same thickness.
RC_GTEST_PROP(Inertia, OfADiscIsThatOfItsRingAndItsCore, ()) {
  const double ro = draws::between(0.05, 0.3), ri = ro * draws::between(0, 0.95), mass = draws::between(0.1, 20);
  const double core_kg = mass * ri * ri / (ro * ro);
  const double sum = fettle::inertia_kgm2(part{mass - core_kg, ro, ri}) + core_kg * ri * ri / 2;
  RC_ASSERT(std::abs(fettle::inertia_kgm2(part{mass, ro}) - sum) <= 1e-13 * sum);
}

TEST(Inertia, OfAnImpossiblePartIsNaN) {
  EXPECT_TRUE(std::isnan(fettle::inertia_kgm2(part{-1, 0.1})));
  EXPECT_TRUE(std::isnan(fettle::inertia_kgm2(part{1, 0.1, -0.01})));
  EXPECT_TRUE(std::isnan(fettle::inertia_kgm2(part{1, 0.1, 0.1})));
  EXPECT_TRUE(std::isnan(fettle::inertia_kgm2(part{1, 0})));
  EXPECT_TRUE(std::isnan(fettle::inertia_kgm2(part{std::nan(""), 0.1})));
}

static_assert(fettle::inertia_kgm2(fettle::round_part<float>{2, 1}) == 1.0F);
static_assert(fettle::inertia_at_driven(2.0F, 3.0F) == 18.0F);

}  // namespace inertia_test

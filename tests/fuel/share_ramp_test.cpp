// SPDX-License-Identifier: MIT
#include "fettle/fuel/share_ramp.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <cmath>
#include <limits>

#include "draws.hpp"

namespace share_ramp_test {

constexpr double nan_share = std::numeric_limits<double>::quiet_NaN();

// By hand: 0.0001 per ms over a cycle of 20 ms are 0.002.
TEST(RampedShare, ComesAndGoesAtTheGivenRate) {
  EXPECT_DOUBLE_EQ(fettle::ramped_share(0.5, false, 0.1, 1e-4, 20.0), 0.102);
  EXPECT_DOUBLE_EQ(fettle::ramped_share(0.0, false, 0.1, 1e-4, 20.0), 0.098);
  EXPECT_EQ(fettle::ramped_share(0.1015, false, 0.1, 1e-4, 20.0), 0.1015);
  EXPECT_EQ(fettle::ramped_share(0.5, false, 0.1, std::numeric_limits<double>::infinity(), 20.0), 0.5);
}

TEST(RampedShare, GuardShutsAtOnce) {
  EXPECT_EQ(fettle::ramped_share(0.5, true, 0.5, 1e-4, 20.0), 0);
  EXPECT_EQ(fettle::ramped_share(nan_share, true, nan_share, nan_share, nan_share), 0);
}

TEST(RampedShare, KeepsItsShareOnBadInput) {
  EXPECT_EQ(fettle::ramped_share(nan_share, false, 0.1, 1e-4, 20.0), 0.1);
  for (const double bad : {nan_share, 0.0, -20.0}) EXPECT_EQ(fettle::ramped_share(0.5, false, 0.1, 1e-4, bad), 0.1);
  EXPECT_EQ(fettle::ramped_share(0.5, false, 0.1, nan_share, 20.0), 0.1);
}

RC_GTEST_PROP(RampedShare, NeverStepsFurtherAndNeverPassesThePlan, ()) {
  const double before = draws::between<double>(0, 1), planned = draws::between<double>(0, 1);
  const double fastest = draws::between<double>(1e-6, 0.01), cycle_ms = draws::between<double>(8, 200);
  const double after = fettle::ramped_share(planned, false, before, fastest, cycle_ms);
  RC_ASSERT(std::abs(after - before) <= fastest * cycle_ms * (1 + 1e-12) + 1e-15);
  RC_ASSERT(std::abs(planned - after) <= std::abs(planned - before));
}

static_assert(fettle::ramped_share(0.5F, false, 0.25F, 1.0F, 20.0F) == 0.5F);

}  // namespace share_ramp_test

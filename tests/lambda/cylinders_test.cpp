// SPDX-License-Identifier: MIT
#include "fettle/lambda/cylinders.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <cstddef>
#include <cstdint>
#include <string>
#include <vector>

#include "fettle/lambda/identify.hpp"
#include "lambda/virtual_cylinders.hpp"

namespace {

using virtual_cylinders::found_trims;
using virtual_cylinders::rotated_runs;

TEST(CylindersOnVirtualEngine, TwoRunsOfFiveSensorsTellTrimsWithin0p3PercentRms) {
  for (const std::uint64_t seed : {1u, 2u, 3u}) {
    const auto runs = rotated_runs(seed, {{1, 2, 3, 4, 5}, {2, 3, 4, 5, 1}}, 5);
    const auto found = found_trims(runs);
    EXPECT_TRUE(found.told.tells_every_trim());
    EXPECT_TRUE(found.settled);
    EXPECT_LT(virtual_cylinders::rms_error(runs, found), 0.003) << "seed " << seed;
    for (std::size_t j = 1; j <= 5; ++j)
      EXPECT_NEAR(found.gains[j].value, runs.engine.sensor[j].gain, 0.004) << "seed " << seed;
  }
}

}  // namespace

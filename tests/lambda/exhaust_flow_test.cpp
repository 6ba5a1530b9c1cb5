// SPDX-License-Identifier: MIT
#include "fettle/lambda/exhaust_flow.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <vector>

namespace {

TEST(ExhaustFlowShare, IsTheMeanFlowOfTheRowsAboutACellOverTheLargest) {
  const auto map = *fettle::dynamic_table<double>::from({*fettle::dynamic_axis<double>::from({1000, 2000, 4000, 8000})},
                                                        {10, 20, 30, 40});
  fettle::recording log;
  const auto add = [&](double rpm, double need_mg) {
    log.time_s.push_back(0.1 * static_cast<double>(log.rows()));
    log.speed_rpm.push_back(rpm);
    log.need_mg.push_back(need_mg);
  };
  add(1000, 10);            // a hundredth of a million
  add(1500, 20);            // half way to the next cell: three of it
  add(4000, 250);           // the largest: a million
  add(4000, std::nan(""));  // without a charge nothing is known
  add(8000, 0);
  log.at = {log.speed_rpm};
  const auto share = fettle::exhaust_flow_share({log}, map);
  EXPECT_NEAR(share[0], (0.01 + 0.5 * 0.03) / 1.5, 1e-12);
  EXPECT_NEAR(share[1], 0.03, 1e-12);
  EXPECT_EQ(share[2], 1);
  EXPECT_EQ(share[3], 0);
}

}  // namespace

// SPDX-License-Identifier: MIT
#include "fettle/lambda/exhaust_flow.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <cstddef>
#include <utility>
#include <vector>

namespace exhaust_flow_test {

/// A warm engine on a map over speed: rows of speed and charge.
fettle::recording log_of(const std::vector<std::pair<double, double>>& rows) {
  fettle::recording log;
  log.fuel_mg.resize(1);
  for (const auto& [rpm, need_mg] : rows) {
    log.time_s.push_back(0.1 * static_cast<double>(log.rows()));
    log.speed_rpm.push_back(rpm);
    log.need_mg.push_back(need_mg);
    log.fuel_mg[0].push_back(need_mg);
    log.target_lambda.push_back(1);
  }
  log.at = {log.speed_rpm};
  return log;
}
const auto speed_map = *fettle::dynamic_table<double>::from(
    {*fettle::dynamic_axis<double>::from({1000, 2000, 4000, 8000})}, {10, 20, 30, 40});

TEST(ExhaustFlowShare, IsTheMeanFlowOfTheRowsAboutACellOverTheLargest) {
  const auto share = fettle::exhaust_flow_share(
      {log_of({{1000, 10}, {1500, 20}, {4000, 250}, {4000, 250}, {4000, std::nan("")}})}, speed_map);
  EXPECT_NEAR(share[0], (0.01 + 0.5 * 0.03) / 1.5, 1e-12);
  EXPECT_NEAR(share[1], 0.03, 1e-12);
  EXPECT_EQ(share[2], 1);
  EXPECT_EQ(share[3], 1);  // not driven: as the nearest cell
}

// On a map of three axes the nearest driven cell may lie along any of them.
TEST(ExhaustFlowShare, OfACellThatWasNotDrivenIsThatOfTheNearestOnThreeAxes) {
  const auto axis = *fettle::dynamic_axis<double>::from({0, 1});
  const auto map =
      *fettle::dynamic_table<double>::from({speed_map.axes()[0], axis, axis}, std::vector<double>(16, 1.0));
  auto log = log_of({{1000, 10}, {2000, 20}, {2000, 20}});
  log.at.resize(3, {1, 1, 1});
  const auto share = fettle::exhaust_flow_share({log}, map);
  EXPECT_NE(share[7], share[3]);
  EXPECT_EQ(share[6], share[7]);
  EXPECT_EQ(share[2], share[3]);
}

TEST(ExhaustFlowShare, IsNotMovedByAGlitchOfTheSpeed) {
  std::vector<std::pair<double, double>> rows(300, {4000, 250});
  rows.emplace_back(1000, 10);
  const auto plain = fettle::exhaust_flow_share({log_of(rows)}, speed_map);
  rows.emplace_back(65535, 40);  // off the map
  rows.emplace_back(8000, 900);  // on it
  const auto glitched = fettle::exhaust_flow_share({log_of(rows)}, speed_map);
  for (std::size_t k = 0; k < 3; ++k) EXPECT_NEAR(glitched[k], plain[k], 1e-12) << k;
}

TEST(FalseLean, IsThreePercentWithoutFlowAndNoneFromATenthOn) {
  EXPECT_NEAR(fettle::false_lean(0), 0.03, 1e-15);
  EXPECT_NEAR(fettle::false_lean(0.05), 0.015, 1e-15);
  EXPECT_EQ(fettle::false_lean(0.1), 0);
  EXPECT_EQ(fettle::false_lean(1), 0);
}

}  // namespace exhaust_flow_test

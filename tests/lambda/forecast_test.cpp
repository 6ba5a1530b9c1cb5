// SPDX-License-Identifier: MIT
#include "fettle/lambda/forecast.hpp"

#include <gtest/gtest.h>

#include <cstddef>
#include <vector>

namespace forecast_test {

using fettle::dynamic_axis;
using fettle::parameter;

/// A steady engine that needs 10 % more fuel than the map says, and what a correction would have made of its log.
fettle::forecast of_steady_engine(double applied) {
  const auto base = *fettle::dynamic_table<double>::from({*dynamic_axis<double>::from({1000, 6000})}, {20.0, 20.0});
  fettle::recording log;
  log.name = "steady";
  log.cylinders = 5;
  log.at.resize(1);
  log.fuel_mg.resize(1);
  for (int i = 0; i < 300; ++i) {
    log.time_s.push_back(0.01 * i);
    log.at[0].push_back(3000);
    log.speed_rpm.push_back(3000);
    log.need_mg.push_back(20);
    log.fuel_mg[0].push_back(20 / 0.9);
    log.target_lambda.push_back(0.9);
  }
  log.sensors.push_back({.name = "collector", .lambda = std::vector<double>(300, 0.99)});
  fettle::identification identified;
  identified.correction.assign(2, 1.1);
  identified.with = {.revolutions = parameter::held("revolutions", 1.5),
                     .banks = {{parameter::held("film share", 0.2), parameter::held("film time", 0.3)}},
                     .sensors = {{parameter::held("pipe gas mass", 0.2), parameter::held("latency", 0),
                                  parameter::held("lag", 0.05), parameter::held("gain", 1)}}};
  return fettle::predict_errors(log, base, 0, identified, std::vector<double>(2, applied), {});
}

TEST(Forecast, OfTheRightCorrectionIsNoErrorAtAll) {
  const auto after = of_steady_engine(1.1);
  ASSERT_GT(after.map_before.size(), 100U);
  EXPECT_NEAR(fettle::rms(after.map_before), 0.1, 1e-12);
  EXPECT_NEAR(fettle::rms(after.map_after), 0, 1e-12);
  EXPECT_NEAR(fettle::rms(after.read_before), 0.1, 1e-9);
  EXPECT_NEAR(fettle::rms(after.read_after), 0, 1e-9);
}

TEST(Forecast, OfHalfACorrectionLeavesTheRest) {
  const auto after = of_steady_engine(1.05);
  EXPECT_NEAR(after.map_after.front(), 1.1 / 1.05 - 1, 1e-12);
  EXPECT_NEAR(after.read_after.front(), 1.1 / 1.05 - 1, 1e-9);
}

TEST(Forecast, AppendsWhatComesLater) {
  auto all = of_steady_engine(1);
  const std::size_t rows = all.map_before.size();
  all.append(of_steady_engine(1));
  EXPECT_EQ(all.map_before.size(), 2 * rows);
  EXPECT_EQ(fettle::rms(std::vector<double>{}), 0);
}

}  // namespace forecast_test

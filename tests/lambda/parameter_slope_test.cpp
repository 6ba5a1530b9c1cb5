// SPDX-License-Identifier: MIT
#include "fettle/lambda/detail/parameter_slope.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <cstddef>
#include <numbers>
#include <vector>

namespace parameter_slope_test {

using fettle::parameter;

// At a steady speed mixture that swings as a sine arrives as the same sine, later by the revolutions, and its slope in the
// logarithm of these is that of the sine.
TEST(ParameterSlope, InTheRevolutionsIsThatOfASineThatArrivesLater) {
  constexpr double rpm = 1000, revolutions = 2, swing = 0.05, rate = 4 * std::numbers::pi,
                   delay_s = revolutions * 60 / rpm;
  const auto base = *fettle::dynamic_table<double>::from({*fettle::dynamic_axis<double>::from({500, 6000})}, {20, 20});
  const fettle::dynamics with{.revolutions = parameter::held("revolutions", revolutions),
                              .banks = {{parameter::held("film share", 0), parameter::held("film time", 0.1)}},
                              .sensors = {{parameter::held("pipe gas mass", 0), parameter::held("latency", 0),
                                           parameter::held("lag", 0), parameter::held("gain", 1)}}};
  fettle::recording log;
  log.name = "sine";
  log.at.resize(1);
  log.fuel_mg.resize(1);
  for (int i = 0; i < 600; ++i) {
    log.time_s.push_back(0.002 * i);
    log.at[0].push_back(rpm);
    log.speed_rpm.push_back(rpm);
    log.need_mg.push_back(20);
    log.fuel_mg[0].push_back(20 * (1 + swing * std::sin(rate * log.time_s.back())));
    log.target_lambda.push_back(1);
  }
  log.sensors.push_back({.name = "collector", .lambda = std::vector<double>(log.rows(), 1.0)});
  const fettle::reading_model model(log, base);
  fettle::detail::channel series{.model = &model};
  series.origin = model.origin_of(0, std::vector<double>(base.size(), 1.0), with);
  series.reading = model.predict(series.origin);
  series.kind.assign(log.rows(), fettle::detail::evidence_kind::measured);
  const auto slope = fettle::detail::parameter_slopes(series, with).in(0);
  for (std::size_t i = 100; i < log.rows(); ++i) {
    const double phase = rate * (log.time_s[i] - delay_s);
    const double exact = -rate * delay_s * swing * std::cos(phase) / (1 + swing * std::sin(phase));
    EXPECT_NEAR(static_cast<double>(slope[i]), exact, 0.02 * rate * delay_s * swing) << i;
  }
}

}  // namespace parameter_slope_test

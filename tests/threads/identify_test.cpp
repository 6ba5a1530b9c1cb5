// SPDX-License-Identifier: MIT
// Sums over sensors and logs are shared by threads: the answer is the one of a single thread, to the last bit.
#include "fettle/lambda/identify.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <cstddef>
#include <random>
#include <string>
#include <vector>

namespace identify_test {

using fettle::dynamic_axis;
using fettle::parameter;

constexpr std::size_t pipes = 2;

/// A minute of driving with one sensor after the collector and one in each of two pipes, moved between the runs.
[[nodiscard]] fettle::recording run(unsigned number) {
  std::mt19937 random{number};
  std::normal_distribution<double> noise{0, 0.01};
  fettle::recording log;
  log.name = "run " + std::to_string(number);
  log.cylinders = pipes;
  log.at.resize(2);
  log.fuel_mg.resize(1);
  log.sensors.resize(1 + pipes);
  for (std::size_t s = 0; s < log.sensors.size(); ++s) {
    log.sensors[s].name = "sensor " + std::to_string(s);
    if (s > 0) log.sensors[s].cylinders = {1 + (s + number) % pipes};
  }
  for (int i = 0; i < 3000; ++i) {
    const double t = 0.02 * i, rpm = 3500 + 2000 * std::sin(t / 3.1);
    log.time_s.push_back(t);
    log.at[0].push_back(rpm);
    log.at[1].push_back(25 + 20 * std::sin(t / 2.3));
    log.speed_rpm.push_back(rpm);
    log.need_mg.push_back(20);
    log.fuel_mg[0].push_back(20 / 0.9);
    log.target_lambda.push_back(0.9);
    for (auto& sensor : log.sensors)
      sensor.lambda.push_back(0.95 + (sensor.cylinders == std::vector<std::size_t>{2} ? 0.02 : 0.0) + noise(random));
  }
  return log;
}

TEST(Identify, FromManyThreadsIsThatOfOneToTheLastBit) {
  const auto base = *fettle::dynamic_table<double>::from(
      {*dynamic_axis<double>::from({1000, 2500, 4000, 6000}), *dynamic_axis<double>::from({0, 15, 30, 50})},
      std::vector<double>(16, 20.0));
  fettle::dynamics start{.revolutions = {"revolutions", 1.5, 0.4, 0.5, 4},
                         .banks = {{{"film share", 0.2, 0.6, 0.01, 0.9}, {"film time", 0.3, 0.6, 0.02, 5}}},
                         .sensors = {}};
  for (std::size_t s = 0; s <= pipes; ++s)
    start.sensors.push_back({{"pipe gas mass", 0.2, 0.6, 0.02, 20},
                             parameter::uncertain("latency", 0.01, 0.3),
                             {"lag", 0.05, 0.5, 0.005, 1},
                             {"gain", 1, 0.015, 0.8, 1.25}});
  const std::vector<fettle::recording> logs{run(1), run(2)};
  const auto alone = fettle::identify(logs, base, start, {.threads = 1});
  const auto shared = fettle::identify(logs, base, start, {.threads = 5});
  EXPECT_EQ(shared.rounds, alone.rounds);
  EXPECT_EQ(shared.correction, alone.correction);
  EXPECT_EQ(shared.standard_error, alone.standard_error);
  EXPECT_EQ(shared.common_error, alone.common_error);
  ASSERT_EQ(shared.parameters.size(), alone.parameters.size());
  for (std::size_t p = 0; p < alone.parameters.size(); ++p) {
    EXPECT_EQ(shared.parameters[p].value, alone.parameters[p].value);
    EXPECT_EQ(shared.parameters[p].relative_error, alone.parameters[p].relative_error);
  }
}

}  // namespace identify_test

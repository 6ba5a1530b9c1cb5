// SPDX-License-Identifier: MIT
// Five cylinders distinguished by one fast sensor after the collector, one sample per exhaust event; and the speed above
// which that is refused.
#include <cmath>
#include <cstddef>
#include <cstdio>
#include <random>
#include <vector>

#include "fettle/lambda/firing_order.hpp"
#include "lesson.hpp"

namespace {

constexpr std::size_t cylinders = 5;

/// What the sensor says at each exhaust event: gas mixes with that of the cylinders before, arrives six events late,
/// and the sensor follows it with a lag and some noise.
std::vector<double> samples_of(const fettle::firing_collector& collector, const std::vector<double>& phi,
                               double speed_rpm, std::size_t cycles) {
  std::mt19937 random(5);
  const auto noise = [&] {  // of the stated size, the same everywhere
    double sum = -6;
    for (int i = 0; i < 12; ++i) sum += static_cast<double>(random()) / 0x1p32;
    return collector.noise * sum;
  };
  const double event_s = 120 / speed_rpm / cylinders, keep = std::exp(-event_s / collector.lag_s);
  const std::size_t settling = 40 * cylinders, late = static_cast<std::size_t>(collector.delay_events);
  double sensor = 1;
  std::vector<double> result;
  for (std::size_t event = 0; event < settling + cycles * cylinders; ++event) {
    double gas = 0;
    for (std::size_t age = 0; age < collector.mixing.size(); ++age)
      gas += collector.mixing[age] * phi[collector.order[(event + 10 * cylinders - late - age) % cylinders] - 1];
    sensor = keep * sensor + (1 - keep) * gas;
    if (event >= settling) result.push_back(sensor + noise());
  }
  return result;
}

/// What noise leaves uncertain of a cylinder, over speed.
lesson::picture error_over_speed(const fettle::firing_collector& collector, double cycles) {
  lesson::line usable{"usable", {}, {}}, refused{"refused", {}, {}};
  for (double rpm = 1000; rpm <= 9000; rpm += 100) {
    const auto seen = fettle::observe(collector, rpm, cycles);
    auto& kind = seen.usable ? usable : refused;
    kind.x.push_back(rpm);
    kind.y.push_back(100 * seen.cylinder_error);
  }
  return {"speed in rpm", "standard error of a cylinder in %", {usable, refused}};
}

}  // namespace

int main(int count, char** words) {
  double speed_rpm = 3000, lag_s = 0.008, cycles = 200;
  const program::command about{"one_fast_sensor",
                               "Distinguishes five cylinders by one fast sensor after the collector.",
                               {{"--rpm", &speed_rpm, "speed of the samples, rpm", 500, 15000},
                                {"--lag-s", &lag_s, "first-order lag of the sensor, s", 0, 1},
                                {"--cycles", &cycles, "cycles that were sampled", 2, 100000}}};
  return lesson::run(about, count, words, [&] {
    // [collector]
    const fettle::firing_collector collector{.order = {1, 2, 4, 5, 3},
                                             .mixing = {0.5, 0.3, 0.15, 0.05},  // of the newest gas, the one before, ..
                                             .lag_s = lag_s,                    // 0.008
                                             .delay_events = 6,
                                             .delay_error_s = 0.001,
                                             .lag_error = 0.1,
                                             .mixing_error = 0.02};
    // [/collector]
    std::printf("rpm    weakest gain  error of a cylinder\n");
    for (const double rpm : {1500.0, 3000.0, 6000.0, 9000.0}) {
      // [observe]
      const auto seen = fettle::observe(collector, rpm, cycles);
      // [/observe]
      std::printf("%-6.0f %12.3f %12.2f %%%s\n", rpm, seen.weakest, 100 * seen.cylinder_error,
                  seen.usable ? "" : "  refused");
    }

    const std::vector<double> truth{1.03, 0.98, 1.04, 0.99, 0.96};  // phi: the fifth cylinder is lean, the mean is not
    const std::vector<double> phi = samples_of(collector, truth, speed_rpm, static_cast<std::size_t>(cycles));
    // [estimate]
    const auto estimate = fettle::estimate_cylinders(collector, phi, speed_rpm);
    // [/estimate]
    std::printf("collector: lambda %.3f\n", 1 / estimate.mean_phi);
    for (std::size_t i = 0; i < cylinders; ++i)
      std::printf("cylinder %zu: lambda %.3f +- %.3f, truth %.3f\n", i + 1,
                  1 / (estimate.mean_phi + estimate.deviation[i]), estimate.standard_error[i], 1 / truth[i]);
    std::printf("refused above %.0f rpm\n", estimate.highest_rpm);
    return error_over_speed(collector, cycles);
  });
}

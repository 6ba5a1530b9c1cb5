// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <nlohmann/json.hpp>
#include <random>
#include <vector>

#include "fettle/fuel/mixture.hpp"
#include "fettle/lambda/firing_order.hpp"
#include "fettle/lambda/rotation.hpp"

namespace laboratory {

inline constexpr std::size_t collector_cylinders = 5;

[[nodiscard]] inline fettle::firing_collector collector_from(const nlohmann::json& question) {
  return {.order = {1, 2, 4, 5, 3},
          .mixing = {0.5, 0.3, 0.15, 0.05},
          .lag_s = question.at("lag_s"),
          .delay_events = 6,
          .delay_error_s = 0.001,
          .noise = question.at("noise")};
}

/// What the sensor reads at each exhaust event once the engine has settled: mixed gas, six events late, through the
/// sensor's lag, with noise.
[[nodiscard]] inline std::vector<double> event_samples(const fettle::firing_collector& collector,
                                                       const std::vector<double>& phi, double speed_rpm,
                                                       std::size_t events) {
  std::mt19937 random(5);
  const std::size_t n = phi.size(), settling = 40 * n;
  const double keep = std::exp(-120 / speed_rpm / static_cast<double>(n) / collector.lag_s);
  double sensor = 1;
  std::vector<double> result;
  for (std::size_t event = 0; event < settling + events; ++event) {
    double gas = 0, normal = -6;
    for (std::size_t age = 0; age < collector.mixing.size(); ++age)
      gas += collector.mixing[age] *
             phi[collector.order[(event + 10 * n - static_cast<std::size_t>(collector.delay_events) - age) % n] - 1];
    sensor = keep * sensor + (1 - keep) * gas;
    for (int k = 0; k < 12; ++k) normal += static_cast<double>(random()) / 0x1p32;
    if (event >= settling) result.push_back(sensor + collector.noise * normal);
  }
  return result;
}

/// Five cylinders as one fast sensor after the collector sees them.
///
/// Question: speed_rpm, lag_s, noise, cycles; lambda, one per cylinder.
/// Answer:   samples, lambda read at the first 40 exhaust events; collector_lambda, mean of the cylinders by air;
///           weakest_gain, cylinder_error, delay_events, is_usable, highest_rpm; estimate, lambda per cylinder, and
///           standard_error, or refusal, the sentence that says why not. weakest_gains over speeds_rpm.
[[nodiscard]] inline nlohmann::json collector(const nlohmann::json& question) {
  const auto what = collector_from(question);
  const double speed_rpm = question.at("speed_rpm");
  const std::size_t cycles = question.at("cycles");
  std::vector<double> phi;
  for (const double lambda : question.at("lambda")) phi.push_back(fettle::phi_from_lambda(lambda));
  const std::vector<double> air(phi.size(), 1.0);
  const auto samples = event_samples(what, phi, speed_rpm, cycles * phi.size());

  // [observe]
  const auto seen = fettle::observe(what, speed_rpm, static_cast<double>(cycles));
  const double highest_rpm = fettle::highest_usable_rpm(what, static_cast<double>(cycles));
  // [/observe]
  nlohmann::json answer{
      {"collector_lambda", fettle::lambda_from_phi(fettle::collector_phi(air.data(), phi.data(), phi.size()))},
      {"weakest_gain", seen.weakest},
      {"cylinder_error", seen.cylinder_error},
      {"delay_events", seen.delay_events},
      {"is_usable", seen.usable},
      {"highest_rpm", highest_rpm},
      {"estimate", nullptr},
      {"refusal", nullptr}};
  for (std::size_t k = 0; k < 40 && k < samples.size(); ++k)
    answer["samples"].push_back(fettle::lambda_from_phi(samples[k]));
  for (double rpm = 1000; rpm <= 9000; rpm += 250) {
    answer["speeds_rpm"].push_back(rpm);
    answer["weakest_gains"].push_back(fettle::observe(what, rpm, static_cast<double>(cycles)).weakest);
  }
  try {
    // [estimate]
    const auto estimate = fettle::estimate_cylinders(what, samples, speed_rpm);
    // [/estimate]
    std::vector<double> lambda;
    for (const double deviation : estimate.deviation)
      lambda.push_back(fettle::lambda_from_phi(estimate.mean_phi + deviation));
    answer["estimate"] = lambda;
    answer["standard_error"] = *std::max_element(estimate.standard_error.begin(), estimate.standard_error.end());
  } catch (const fettle::error& refused) {
    answer["refusal"] = refused.what();
  }
  return answer;
}

/// Sensors that move from pipe to pipe between runs: what is identifiable after each run.
///
/// Question: sensors, 1 to 5, none calibrated; has_collector, whether a calibrated one stays after the collector;
///           runs, how many of the plan have been driven.
/// Answer:   plan [run][sensor], cylinders from 1; trim, per cylinder, and gain, per sensor (collector last): whether
///           the driven runs identify it; remarks, why not. refusal, when no plan exists.
[[nodiscard]] inline nlohmann::json rotation(const nlohmann::json& question) {
  const std::size_t sensors = question.at("sensors"), runs = question.at("runs");
  const bool has_collector = question.at("has_collector");
  nlohmann::json answer{{"refusal", nullptr}};
  try {
    // [rotation]
    const auto plan = fettle::plan_rotation(sensors, collector_cylinders, has_collector);
    fettle::rotation driven{
        .cylinders = collector_cylinders, .runs = std::min(runs, plan.size()), .sensors = {}, .stays = {}};
    for (std::size_t j = 0; j < sensors; ++j) driven.sensors.push_back({"sensor " + std::to_string(j + 1), false});
    if (has_collector) driven.sensors.push_back({"collector", true});
    for (std::size_t r = 0; r < driven.runs; ++r) {
      for (std::size_t j = 0; j < sensors; ++j) driven.stays.push_back({r, j, {plan[r][j]}});
      if (has_collector) driven.stays.push_back({r, sensors, {}});
    }
    const auto identified = fettle::separate(driven);
    // [/rotation]
    answer["plan"] = plan;
    answer["trim"] = identified.trim;
    answer["gain"] = identified.gain;
    answer["remarks"] = identified.remarks;
  } catch (const fettle::error& refused) {
    answer["refusal"] = refused.what();
  }
  return answer;
}

}  // namespace laboratory

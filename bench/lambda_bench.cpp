// SPDX-License-Identifier: MIT
// How long trims of twelve cylinders take from a million rows, the common map first, as trim_cylinders does it.
#include <benchmark/benchmark.h>

#include <cmath>
#include <cstddef>
#include <cstdint>
#include <random>
#include <string>
#include <vector>

#include "fettle/lambda.hpp"
#include "fettle/map/interpolate.hpp"

namespace {

constexpr std::size_t cylinders = 12, runs = 2;

using axis = fettle::dynamic_axis<double>;

fettle::dynamic_table<double> base_map() {
  std::vector<double> speed_rpm, throttle_pct;
  for (int i = 0; i < 16; ++i) speed_rpm.push_back(1000 + 500 * i);
  for (int i = 0; i < 12; ++i) throttle_pct.push_back(8.0 * i + 5);
  std::vector<double> values;
  for (const double rpm : speed_rpm)
    for (const double pct : throttle_pct) values.push_back(5 + 0.2 * pct + rpm / 1000);
  return *fettle::dynamic_table<double>::from({*axis::from(speed_rpm), *axis::from(throttle_pct)}, values);
}

fettle::dynamics some_dynamics() {
  using fettle::parameter;
  fettle::dynamics result;
  result.revolutions = {"revolutions", 1.5, 0.4, 0.5, 4};
  result.banks.push_back({{"film share", 0.2, 0.6, 0.01, 0.9}, {"film time", 0.3, 0.6, 0.02, 5}});
  for (std::size_t s = 0; s <= cylinders; ++s)
    result.sensors.push_back({{"pipe gas mass", s == 0 ? 0.8 : 0.15, 0.6, 0.02, 20},
                              parameter::held("latency", 0.01),
                              {"lag", 0.06, 0.5, 0.005, 1},
                              parameter::held("gain", 1)});
  return result;
}

/// A driven log: speed and throttle wander, sensor j sits in cylinder j + run, readings carry noise.
fettle::recording driven(std::size_t rows, std::size_t run, const fettle::dynamic_table<double>& base) {
  fettle::recording log;
  log.name = "run " + std::to_string(run + 1);
  log.cylinders = cylinders;
  log.at.resize(2);
  log.fuel_mg.resize(1);
  std::mt19937_64 random(run + 1);
  std::normal_distribution<double> normal;
  for (std::size_t i = 0; i < rows; ++i) {
    const double time_s = 0.01 * static_cast<double>(i);
    const double rpm = 4750 + 3500 * std::sin(0.31 * time_s), pct = 50 + 43 * std::sin(1.7 * time_s + 2);
    log.time_s.push_back(time_s);
    log.at[0].push_back(rpm);
    log.at[1].push_back(pct);
    log.speed_rpm.push_back(rpm);
    log.need_mg.push_back(fettle::interpolate(base.view<2>(), rpm, pct));
    log.fuel_mg[0].push_back(log.need_mg.back() * (1 + 0.05 * std::sin(rpm / 900)));
    log.target_lambda.push_back(1);
  }
  for (std::size_t s = 0; s <= cylinders; ++s)
    log.sensors.push_back(
        {.name = s == 0 ? "collector" : "pipe " + std::to_string(s),
         .cylinders = s == 0 ? std::vector<std::size_t>{} : std::vector<std::size_t>{1 + (s - 1 + run) % cylinders},
         .flow_share = s == 0 ? 1 : 1.0 / cylinders,
         .lambda = std::vector<double>(rows, 1.0)});
  const fettle::reading_model model(log, base);
  const std::vector<double> right(base.size(), 1.0);
  std::vector<std::vector<double>> readings;
  for (std::size_t s = 0; s <= cylinders; ++s) {
    auto phi = model.predict(model.origin_of(s, right, some_dynamics()));
    const auto& seen = log.sensors[s].cylinders;
    const double air =
        seen.empty() ? 1 : 1 + 0.035 * std::sin(1.0 + static_cast<double>(seen.front()) * 2 * 3.14159265 / 12);
    const double gain = s == 0 ? 1 : 1 + 0.02 * std::sin(7 * static_cast<double>(s));
    for (double& value : phi) value = air / (gain * value) * (1 + 0.006 * normal(random));
    readings.push_back(std::move(phi));
  }
  for (std::size_t s = 0; s <= cylinders; ++s) log.sensors[s].lambda = std::move(readings[s]);
  return log;
}

struct sample {
  fettle::dynamic_table<double> base = base_map();
  std::vector<fettle::recording> logs;
  explicit sample(std::size_t rows) {
    for (std::size_t r = 0; r < runs; ++r) logs.push_back(driven(rows / runs, r, base));
  }
};

const sample& million() {
  static const sample logs(1'000'000);
  return logs;
}

void one_sensor(benchmark::State& state) {
  std::vector<fettle::recording> collector;
  for (const auto& log : million().logs) {
    auto& recording = collector.emplace_back(log);
    recording.sensors.resize(1);
  }
  auto with = some_dynamics();
  with.sensors.resize(1);
  for (auto _ : state) benchmark::DoNotOptimize(fettle::identify(collector, million().base, with));
  state.SetItemsProcessed(state.iterations() * 1'000'000);
}
BENCHMARK(one_sensor)->Name("map, one sensor, 1,000,000 rows")->Unit(benchmark::kSecond)->Iterations(1);

void all_sensors(benchmark::State& state) {
  fettle::identify_options options{
      .trims = {.axes = {*axis::from({1000, 2000, 3000, 4000, 5000, 6000, 7000, 8500})}, .along = {0}}};
  for (auto _ : state)
    benchmark::DoNotOptimize(fettle::identify(million().logs, million().base, some_dynamics(), options));
  state.SetItemsProcessed(state.iterations() * 1'000'000);
}
BENCHMARK(all_sensors)
    ->Name("map and trims of 12 cylinders, 13 sensors, 1,000,000 rows")
    ->Unit(benchmark::kSecond)
    ->Iterations(1);

}  // namespace

BENCHMARK_MAIN();

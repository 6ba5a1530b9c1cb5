// SPDX-License-Identifier: MIT
// What one cycle of one cylinder costs, from sensors to two pulses, and its parts. Fixed seed; the engine wanders over
// speed and throttle, so banks come and go. `each` is the time of one cycle, split or line.
#include <benchmark/benchmark.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <random>
#include <vector>

#include "fettle/fuel.hpp"
#include "microcontroller/calibration.hpp"

namespace {

/// Reports the time of one of `count` things done in every iteration.
void report_each(benchmark::State& state, std::size_t count) {
  state.counters["each"] = benchmark::Counter(
      static_cast<double>(count), benchmark::Counter::kIsIterationInvariantRate | benchmark::Counter::kInvert);
}

/// A drive: speed and throttle wander by small steps, as from cycle to cycle.
[[nodiscard]] std::vector<fettle::engine_readings<float>> drive() {
  std::mt19937 random(1);
  std::normal_distribution<float> step(0, 1);
  std::vector<fettle::engine_readings<float>> result(4096);
  float speed = 4500, throttle = 35;
  for (auto& readings : result) {
    speed = std::clamp(speed + 60 * step(random), 900.0F, 8900.0F);
    throttle = std::clamp(throttle + 3 * step(random), 1.0F, 99.0F);
    readings = {.speed_rpm = speed, .throttle_pct = throttle, .air = {98 + step(random) / 10, 25}};
  }
  return result;
}

/// From sensors to two pulses: charge, three maps, two films with compensation, the split.
void run_time_path(benchmark::State& state) {
  auto calibration = controller::calibration;
  benchmark::DoNotOptimize(calibration);  // not known to the compiler
  const auto cycles = drive();
  const auto line = fettle::flow_line_at<float>(controller::injector, {13.2F, 310});
  const fettle::bank_lines<float> lines{line, line};
  fettle::bank_state<float> banks;
  std::size_t both = 0;
  for (auto _ : state) {
    for (const auto& readings : cycles) {
      const auto cycle = fettle::run_cycle(calibration, readings, lines, banks);
      both += cycle.banks.mode == fettle::bank_mode::both ? 1 : 0;
    }
  }
  benchmark::DoNotOptimize(both);
  report_each(state, cycles.size());
  state.counters["both_banks"] =
      static_cast<double>(both) / static_cast<double>(state.iterations()) / static_cast<double>(cycles.size());
}
BENCHMARK(run_time_path);

/// The split alone.
void split_of_two_banks(benchmark::State& state) {
  const fettle::flow_line<float> primary{3.2F, 1, 0.4F}, secondary{4, 1, 0.5F};
  const fettle::pulse_limits<float> limits{.cycle_ms = 20, .largest_duty = 0.85F};
  std::mt19937 random(1);
  std::uniform_real_distribution<float> draw(0, 1);
  std::vector<float> mass_mg(4096), share(4096);
  for (auto& mass : mass_mg) mass = 60 * draw(random);
  for (auto& fraction : share) fraction = draw(random);
  auto mode = fettle::bank_mode::none;
  for (auto _ : state) {
    for (std::size_t i = 0; i < mass_mg.size(); ++i) {
      const auto banks = fettle::split(mass_mg[i], share[i], {primary, secondary}, limits, mode);
      benchmark::DoNotOptimize(banks);
      mode = banks.mode;
    }
  }
  report_each(state, mass_mg.size());
}
BENCHMARK(split_of_two_banks);

/// The flow line of one injector at a changing supply: due when battery and pressure are sampled.
void flow_line_of_an_injector(benchmark::State& state) {
  auto injector = controller::injector;
  benchmark::DoNotOptimize(injector);
  std::mt19937 random(1);
  std::uniform_real_distribution<float> volts(9, 15), kpa(250, 400);
  std::vector<fettle::injector_supply<float>> supplies(4096);
  for (auto& supply : supplies) supply = {volts(random), kpa(random)};
  for (auto _ : state) {
    for (const auto& supply : supplies) benchmark::DoNotOptimize(fettle::flow_line_at(injector, supply));
  }
  report_each(state, supplies.size());
}
BENCHMARK(flow_line_of_an_injector);

/// A film and its inverse, as a plain loop over the standard exponential would do it, and as the library does.
template <bool Library>
void film_and_its_inverse(benchmark::State& state) {
  const auto cycles = drive();
  float film_mg = 0;
  for (auto _ : state) {
    for (const auto& readings : cycles) {
      const float cycle_ms = 120000 / readings.speed_rpm;
      const auto shares = Library ? fettle::film_over<float>({0.25F, 300}, cycle_ms)
                                  : fettle::film_cycle<float>{0.25F, -std::expm1(-cycle_ms / 300)};
      film_mg = fettle::inject(shares, film_mg, fettle::injection_for(shares, film_mg, 30.0F)).film_mg;
    }
    benchmark::DoNotOptimize(film_mg);
  }
  report_each(state, cycles.size());
}
BENCHMARK(film_and_its_inverse<false>);
BENCHMARK(film_and_its_inverse<true>);

}  // namespace

BENCHMARK_MAIN();

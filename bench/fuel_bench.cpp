// SPDX-License-Identifier: MIT
// What one cycle of one cylinder costs, from sensors to two pulses, and its parts. Fixed seed; the engine wanders over
// speed and throttle, so banks come and go. `each` is the time of one cycle, split or line.
#include <benchmark/benchmark.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <random>
#include <vector>

#include "fettle/fuel.hpp"
#include "fettle/map/table.hpp"

namespace {

/// Reports the time of one of `count` things done in every iteration.
void report_each(benchmark::State& state, std::size_t count) {
  state.counters["each"] = benchmark::Counter(
      static_cast<double>(count), benchmark::Counter::kIsIterationInvariantRate | benchmark::Counter::kInvert);
}

constexpr fettle::axis<float, 16> speed_rpm{
    {800, 1200, 1600, 2000, 2500, 3000, 3500, 4000, 4500, 5000, 5500, 6000, 6750, 7500, 8250, 9000}};
constexpr fettle::axis<float, 16> throttle_pct{{0, 2, 4, 6, 9, 12, 16, 20, 25, 30, 38, 46, 56, 68, 82, 100}};
constexpr fettle::axis<float, 5> battery_v{{8, 10, 12, 14, 16}};
constexpr fettle::axis<float, 3> drop_kpa{{250, 300, 400}};

constexpr std::array<float, 16> throttle_guard_pct{25, 25, 25, 25, 25, 26, 27, 28, 29, 30, 31, 32, 33, 34, 34, 35};

/// A map of 16 x 16 from a formula of speed in rpm and throttle from 0 to 1.
template <class F>
[[nodiscard]] fettle::table<float, 16, 16> sampled(F&& of) {
  float cells[256];
  for (std::size_t i = 0; i < 256; ++i) cells[i] = of(speed_rpm.points()[i / 16], throttle_pct.points()[i % 16] / 100);
  return {speed_rpm, throttle_pct, cells};
}

/// An invented engine: five cylinders of half a litre, two banks.
struct engine {
  fettle::table<float, 16, 16> air_mg = sampled([](float n, float a) { return 70 + 480 * a / (a + n / 20000); });
  fettle::table<float, 16, 16> lambda = sampled([](float, float a) { return 1 - 0.13F * a; });
  fettle::table<float, 16, 16> share =
      sampled([](float n, float a) { return a > 0.35F && n > 3500 ? 0.2F + 0.3F * a : 0.0F; });
  fettle::table<float, 5, 3> dead_time_ms{
      battery_v, drop_kpa, {2.2, 2.4, 2.8, 1.5, 1.6, 1.8, 1.0, 1.1, 1.2, 0.8, 0.9, 1.0, 0.7, 0.7, 0.8}};
  fettle::injector<float> injector{.static_flow_mg_per_ms = 3.2F,
                                   .reference_drop_kpa = 300,
                                   .smallest_open_ms = 0.4F,
                                   .dead_time_ms = dead_time_ms.view()};
  fettle::fuel_calibration<float> calibration{
      .axes = air_mg.view().axes,
      .air_mg = air_mg.values().data(),
      .lambda = lambda.values().data(),
      .secondary_share = share.values().data(),
      .throttle_guard_pct = throttle_guard_pct.data(),
      .fastest_share_per_ms = fettle::fastest_share_per_ms<float>({0.25F, 300}, {0.1F, 500}, 0.2F, 34, 0.015F),
      .reference = {100, 20},
      .stoichiometric_afr = 14.6F,
      .largest_duty = 0.85F,
      .primary_film = {0.25F, 300},
      .secondary_film = {0.1F, 500}};
};

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
  const engine car;
  const auto cycles = drive();
  const auto line = fettle::flow_line_at<float>(car.injector, {13.2F, 310});
  const fettle::bank_lines<float> lines{line, line};
  fettle::bank_state<float> banks;
  std::size_t both = 0;
  for (auto _ : state) {
    for (const auto& readings : cycles) {
      const auto cycle = fettle::run_cycle(car.calibration, readings, lines, banks);
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
  for (auto& one : share) one = draw(random);
  auto mode = fettle::bank_mode::none;
  for (auto _ : state) {
    for (std::size_t i = 0; i < mass_mg.size(); ++i) {
      const auto banks = fettle::split(mass_mg[i], share[i], primary, secondary, limits, mode);
      benchmark::DoNotOptimize(banks);
      mode = banks.mode;
    }
  }
  report_each(state, mass_mg.size());
}
BENCHMARK(split_of_two_banks);

/// The flow line of one injector at a changing supply: due when battery and pressure are sampled.
void flow_line_of_an_injector(benchmark::State& state) {
  const engine car;
  std::mt19937 random(1);
  std::uniform_real_distribution<float> volts(9, 15), kpa(250, 400);
  std::vector<fettle::injector_supply<float>> supplies(4096);
  for (auto& supply : supplies) supply = {volts(random), kpa(random)};
  for (auto _ : state) {
    for (const auto& supply : supplies) benchmark::DoNotOptimize(fettle::flow_line_at(car.injector, supply));
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

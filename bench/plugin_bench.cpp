// SPDX-License-Identifier: MIT
// A batch look-up through the plugin beside the same batch in C++: 16 x 16 doubles, scattered points, fixed seed.
#include <benchmark/benchmark.h>

#include <array>
#include <cstddef>
#include <memory>
#include <random>
#include <vector>

#include "fettle/map/batch.hpp"
#include "fettle/map/dynamic_table.hpp"
#include "plugin_host/loaded_plugin.hpp"

namespace {

constexpr std::array<double, 16> rpm{800,  1200, 1600, 2000, 2500, 3000, 3500, 4000,
                                     4500, 5000, 5500, 6000, 6750, 7500, 8250, 9000};
constexpr std::array<double, 16> throttle_pct{0, 2, 4, 6, 9, 12, 16, 20, 25, 30, 38, 46, 56, 68, 82, 100};

struct batch {
  std::vector<double> rpm, throttle_pct, cells, out;

  explicit batch(std::size_t rows) : rpm(rows), throttle_pct(rows), cells(256), out(rows) {
    std::mt19937 random(1);
    std::uniform_real_distribution<double> speed(700, 9200), throttle(0, 100), cell(10, 60);
    for (auto& x : rpm) x = speed(random);
    for (auto& x : throttle_pct) x = throttle(random);
    for (auto& x : cells) x = cell(random);
  }
};

void direct(benchmark::State& state) {
  batch batch(static_cast<std::size_t>(state.range(0)));
  using axis = fettle::dynamic_axis<double>;
  const auto table = fettle::dynamic_table<double>::from(
      {*axis::from({rpm.begin(), rpm.end()}), *axis::from({throttle_pct.begin(), throttle_pct.end()})}, batch.cells);
  const auto map = table->view<2>();
  for (auto _ : state) {
    fettle::interpolate_list(map, {batch.rpm.data(), batch.throttle_pct.data()}, batch.out.size(), batch.out.data());
    benchmark::ClobberMemory();
  }
  state.SetItemsProcessed(state.iterations() * state.range(0));
}

void through_the_plugin(benchmark::State& state) {
  batch batch(static_cast<std::size_t>(state.range(0)));
  const std::array<fettle_axis, 2> axes{
      {{"rpm", rpm.data(), rpm.size()}, {"throttle_pct", throttle_pct.data(), throttle_pct.size()}}};
  const fettle_map map{"map", axes.data(), axes.size(), batch.cells.data(), batch.cells.size()};
  const plugin_host::instance plugin(std::make_shared<const plugin_host::loaded_plugin>(LOOK_UP_PLUGIN),
                                     {sizeof(fettle_settings), &map, 1, nullptr, 0});
  const std::array<const double*, 2> inputs{batch.rpm.data(), batch.throttle_pct.data()};
  const std::array<double*, 1> outputs{batch.out.data()};
  for (auto _ : state) {
    plugin.run(inputs.data(), outputs.data(), batch.out.size());
    benchmark::ClobberMemory();
  }
  state.SetItemsProcessed(state.iterations() * state.range(0));
}

BENCHMARK(direct)->Arg(16)->Arg(256)->Arg(4096)->Arg(65536);
BENCHMARK(through_the_plugin)->Arg(16)->Arg(256)->Arg(4096)->Arg(65536);

}  // namespace

BENCHMARK_MAIN();

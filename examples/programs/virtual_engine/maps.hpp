// SPDX-License-Identifier: MIT
#pragma once

#include <cstdint>
#include <utility>
#include <vector>

#include "fettle/map/dynamic_table.hpp"
#include "virtual_engine/engine.hpp"

namespace virtual_engine {

using map = fettle::dynamic_table<double>;

/// Breakpoints of a map over speed and throttle.
struct map_axes {
  std::vector<double> rpm{800,  1200, 1700, 2200, 2800, 3400, 4000, 4600,
                          5200, 5800, 6400, 7000, 7500, 8000, 8500, 9000};
  std::vector<double> throttle_pct{0, 2, 5, 9, 14, 20, 27, 35, 44, 54, 66, 82, 100};
};

/// A function of speed and throttle, sampled at the breakpoints.
template <class Function>
[[nodiscard]] map sampled(const map_axes& axes, Function&& value) {
  std::vector<double> cells;
  for (const double rpm : axes.rpm)
    for (const double throttle_pct : axes.throttle_pct) cells.push_back(value(rpm, throttle_pct));
  using axis = fettle::dynamic_axis<double>;
  return *map::from({*axis::from(axes.rpm), *axis::from(axes.throttle_pct)}, std::move(cells));
}

/// As a file will hold it.
[[nodiscard]] map rounded(map cells, int decimals);

/// The truth at the breakpoints: fuel per cylinder and cycle at lambda 1 and reference conditions.
[[nodiscard]] map ideal_fuel_map(const engine& e, const map_axes& axes = {});

/// The fuel map that the car came with: the truth, off by smooth errors of 10 to 13 % at most and 1 % noise per cell.
[[nodiscard]] map base_fuel_map(const engine& e, std::uint64_t seed, const map_axes& axes = {});

/// The secondary bank's share of the fuel: nothing below a throttle guard that rises with speed, blended in above it.
[[nodiscard]] map share_map(const map_axes& axes = {});

}  // namespace virtual_engine

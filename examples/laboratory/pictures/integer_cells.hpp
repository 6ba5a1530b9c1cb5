// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <nlohmann/json.hpp>
#include <vector>

#include "fettle/error.hpp"
#include "fettle/map.hpp"
#include "laboratory/pictures/demo_map.hpp"

namespace laboratory {

/// The demo map as a controller may hold it: integer cells of one type, integer axes in rpm and hundredths of a percent.
template <std::integral Cell>
class controller_map {
 public:
  /// @param scaling  what a cell's raw number means in mg.
  explicit controller_map(const fettle::linear_scaling<double>& scaling) : scaling_{scaling} {
    // [cells]
    for (std::size_t i = 0; i < speed_.size(); ++i) speed_[i] = static_cast<std::int32_t>(demo_speed_rpm.points()[i]);
    for (std::size_t i = 0; i < throttle_.size(); ++i)
      throttle_[i] = static_cast<std::int32_t>(100 * demo_throttle_pct.points()[i]);
    for (std::size_t k = 0; k < cells_.size(); ++k) cells_[k] = *scaling.raw<Cell>(demo_fuel_mg.values()[k]);
    // [/cells]
  }

  [[nodiscard]] double cell_mg(std::size_t k) const { return scaling_.physical(cells_[k]); }
  [[nodiscard]] const std::array<Cell, 30>& cells() const { return cells_; }

  /// In mg; the look-up itself is in integers throughout.
  [[nodiscard]] double fuel_mg(double speed_rpm, double throttle_pct) const {
    const fettle::map_view<2, std::int32_t, Cell> map{
        .axes = {{{speed_.data(), speed_.size()}, {throttle_.data(), throttle_.size()}}}, .values = cells_.data()};
    // [look_up]
    const Cell raw = fettle::interpolate(map, static_cast<std::int32_t>(std::lround(speed_rpm)),
                                         static_cast<std::int32_t>(std::lround(100 * throttle_pct)));
    // [/look_up]
    return scaling_.physical(raw);
  }

 private:
  fettle::linear_scaling<double> scaling_;
  std::array<std::int32_t, 6> speed_{};
  std::array<std::int32_t, 5> throttle_{};
  std::array<Cell, 30> cells_{};
};

template <std::integral Cell>
[[nodiscard]] nlohmann::json integer_cells_of(const nlohmann::json& question) {
  const double lowest_mg = question.at("lowest_mg"), highest_mg = question.at("highest_mg"),
               speed_rpm = question.at("speed_rpm"), last_pct = question.at("last_pct");
  const double unit_mg = (highest_mg - lowest_mg) / double(std::numeric_limits<Cell>::max());
  const controller_map<Cell> map({.factor = unit_mg, .offset = lowest_mg});

  std::vector<double> throttle_pct, exact_mg, integer_mg, error_pct;
  for (int at = 0; at <= 1000; ++at) {
    throttle_pct.push_back(last_pct * at / 1000);
    exact_mg.push_back(fettle::interpolate(demo_fuel_mg, speed_rpm, throttle_pct.back()));
    integer_mg.push_back(map.fuel_mg(speed_rpm, throttle_pct.back()));
    error_pct.push_back(100 * (integer_mg.back() / exact_mg.back() - 1));
  }
  double worst_pct = 0, worst_rpm = 0, worst_throttle_pct = 0;
  for (double rpm = 1000; rpm <= 8500; rpm += 50)
    for (double throttle = 0; throttle <= 100; throttle += 0.5) {
      const double exact = fettle::interpolate(demo_fuel_mg, rpm, throttle);
      const double off_pct = 100 * (map.fuel_mg(rpm, throttle) / exact - 1);
      if (std::abs(off_pct) <= std::abs(worst_pct)) continue;
      worst_pct = off_pct;
      worst_rpm = rpm;
      worst_throttle_pct = throttle;
    }
  std::size_t clipped = 0;
  for (std::size_t k = 0; k < map.cells().size(); ++k)
    clipped += std::abs(map.cell_mg(k) - demo_fuel_mg.values()[k]) > 0.5001 * unit_mg;
  return {{"unit_mg", unit_mg},
          {"bytes", sizeof(Cell) * map.cells().size()},
          {"cells", std::vector<int>(map.cells().begin(), map.cells().end())},
          {"throttle_pct", throttle_pct},
          {"exact_mg", exact_mg},
          {"integer_mg", integer_mg},
          {"error_pct", error_pct},
          {"worst_pct", worst_pct},
          {"worst_rpm", worst_rpm},
          {"worst_throttle_pct", worst_throttle_pct},
          {"clipped_cells", clipped}};
}

/// The demo map in integer cells, and what that costs.
///
/// Question: bits, 8 or 16; lowest_mg and highest_mg, what the cells' numbers span; speed_rpm and last_pct, throttle at the end, of the sweep.
/// Answer:   unit_mg, of one step; bytes and cells; throttle_pct with exact_mg, integer_mg and error_pct; the worst
///           relative error over the whole map, worst_pct, at worst_rpm and worst_throttle_pct; clipped_cells, beyond
///           the span.
/// Errors:   `fettle::error` for a span that is not positive.
[[nodiscard]] inline nlohmann::json integer_cells(const nlohmann::json& question) {
  const double lowest_mg = question.at("lowest_mg"), highest_mg = question.at("highest_mg");
  if (!(highest_mg > lowest_mg))
    throw fettle::error("integer cells: the highest value must lie above the lowest; give a span of more than 0 mg");
  return question.at("bits") == 8 ? integer_cells_of<std::uint8_t>(question)
                                  : integer_cells_of<std::uint16_t>(question);
}

}  // namespace laboratory

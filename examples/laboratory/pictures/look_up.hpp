// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cmath>
#include <cstddef>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "fettle/map.hpp"
#include "laboratory/pictures/demo_map.hpp"

namespace laboratory {

[[nodiscard]] inline fettle::outside outside_from(const std::string& rule) {
  if (rule == "extend") return fettle::outside::extend;
  return rule == "refuse" ? fettle::outside::refuse : fettle::outside::hold;
}

/// The look-up of one point: the cells that it reads, their weights, the value and the slopes.
///
/// Question: speed_rpm, throttle_pct; outside, one of hold, extend and refuse.
/// Answer:   value_mg, none when refused; slope_mg_per_rpm, slope_mg_per_pct, within the cell of the point; four cells
///           (index, speed_rpm, throttle_pct, fuel_mg, weight); where, per axis, the point lies.
[[nodiscard]] inline nlohmann::json look_up(const nlohmann::json& question) {
  const double speed_rpm = question.at("speed_rpm"), throttle_pct = question.at("throttle_pct");
  const auto rule = outside_from(question.at("outside"));
  const auto map = demo_fuel_mg.view();
  const fettle::edges both{rule, rule};

  // [look_up]
  const auto value = fettle::read(map, {both, both}, speed_rpm, throttle_pct);
  const std::array places{fettle::locate(map.axes[0], speed_rpm, both).at,
                          fettle::locate(map.axes[1], throttle_pct, both).at};
  const auto cells = fettle::stencil_at(map.axes, places);
  const auto slopes = fettle::interpolate_with_slopes(map, speed_rpm, throttle_pct).slope;
  // [/look_up]

  constexpr std::array words{"inside", "below", "above", "not a number"};
  nlohmann::json answer{
      {"value_mg", value.value},
      {"slope_mg_per_rpm", slopes[0]},
      {"slope_mg_per_pct", slopes[1]},
      {"where", {words[static_cast<std::size_t>(value.where[0])], words[static_cast<std::size_t>(value.where[1])]}}};
  for (std::size_t k = 0; k < cells.size; ++k) {
    const std::size_t cell = cells.cell[k], columns = map.axes[1].size;
    answer["cells"].push_back({{"index", cell},
                               {"speed_rpm", map.axes[0].points[cell / columns]},
                               {"throttle_pct", map.axes[1].points[cell % columns]},
                               {"fuel_mg", map.values[cell]},
                               {"weight", cells.weight[k]}});
  }
  return answer;
}

/// The whole map: its axes and cells, and heights of the surface on a fine grid, each an ordinary look-up.
///
/// Question: steps, heights per cell along each axis.
/// Answer:   speed_rpm, throttle_pct, fuel_mg; fine_speed_rpm, fine_throttle_pct, fine_fuel_mg (row by row).
[[nodiscard]] inline nlohmann::json demo_surface(const nlohmann::json& question) {
  const int steps = question.at("steps");
  const auto fine = [steps](const auto& points) {
    std::vector<double> result{points.front()};
    for (std::size_t i = 1; i < points.size(); ++i)
      for (int k = 1; k <= steps; ++k) result.push_back(std::lerp(points[i - 1], points[i], k / double(steps)));
    return result;
  };
  const auto speeds = fine(demo_speed_rpm.points()), throttles = fine(demo_throttle_pct.points());
  std::vector<double> heights;
  for (const double speed : speeds)
    for (const double throttle : throttles) heights.push_back(fettle::interpolate(demo_fuel_mg, speed, throttle));
  return {{"speed_rpm", demo_speed_rpm.points()}, {"throttle_pct", demo_throttle_pct.points()},
          {"fuel_mg", demo_fuel_mg.values()},     {"fine_speed_rpm", speeds},
          {"fine_throttle_pct", throttles},       {"fine_fuel_mg", heights}};
}

}  // namespace laboratory

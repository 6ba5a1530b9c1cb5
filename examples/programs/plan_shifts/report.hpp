// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <cstddef>
#include <deque>
#include <string>
#include <utility>
#include <vector>

#include "common/report/cautions.hpp"
#include "common/report/line_chart.hpp"
#include "common/report/page.hpp"
#include "common/vehicle/road_caution.hpp"
#include "plan_shifts/blip_maps.hpp"
#include "plan_shifts/job.hpp"
#include "plan_shifts/terminal.hpp"

namespace plan_shifts {
namespace detail {

inline void add_result(report::page& page, const outcome& all) {
  page.section("Result");
  page.facts({{"Down-shifts", blips_in_words(all)},
              {"With maps 10 % wrong", wrong_maps_in_words(all)},
              {"If the speed is off", jolt_in_words(all)}});
  page.notice("Before you test", std::array{vehicle::road_caution});
  page.notice("Before you rely on it", report::cautions);
}

inline void add_up(report::page& page, const outcome& all) {
  page.section("Changing up");
  std::vector<std::vector<std::string>> rows;
  for (const auto& shift : all.up)
    rows.push_back({fmt::format("{} to {}", shift.from_gear, shift.from_gear + 1),
                    fmt::format("{:.0f}{}", shift.rpm, shift.at_limit ? ", the limit" : ""),
                    fmt::format("{:.0f}", shift.speed_kmh), fmt::format("{:.0f}", shift.rpm_after),
                    unload_in_words(shift.unload_s), fmt::format("{:.2f}", shift.fall_s)});
  page.add(report::table{.caption = "At full throttle",
                         .columns = {{"Gears"},
                                     {"Shift at rpm", true},
                                     {"km/h", true},
                                     {"Then rpm", true},
                                     {"Dogs unloaded after"},
                                     {"Engine falls by itself in s", true}},
                         .rows = std::move(rows)});
  page.paragraph(fmt::format(
      "The best speed is where both gears accelerate equally. The cut takes effect {:g} ms after the request, cylinder "
      "by cylinder over two revolutions. The dogs are unloaded once the torque is what the engine's own inertia needs "
      "while the car coasts. If the engine needs longer to slow down than the gearbox to shift ({:g} ms), the dogs or "
      "the clutch absorb the rest; a longer cut spares them.",
      1000 * all.settings.cut_latency_s, 1000 * all.settings.shift_s));
  std::deque<std::vector<double>> speed, force;
  report::line_chart chart{.x_label = "speed in km/h", .y_label = "acceleration in m/s2"};
  const auto torque = full_load(all.torque);
  for (std::size_t g = 0; g < all.settings.vehicle.gears.size(); ++g) {
    auto &x = speed.emplace_back(), &y = force.emplace_back();
    const auto& gear = all.settings.vehicle.gears[g];
    const auto& points = all.torque.table.axes()[0].points();
    const fettle::map_view<1, double> curve{{{{points.data(), points.size()}}}, torque.data()};
    for (double rpm = all.settings.lowest_rpm; rpm <= all.settings.limit_rpm; rpm += 50) {
      const double v = fettle::road_speed_mps(gear, rpm);
      x.push_back(3.6 * v);
      y.push_back(
          fettle::acceleration_mps2(all.settings.vehicle.car, gear, {.speed_mps = v}, fettle::interpolate(curve, rpm)));
    }
    chart.series.push_back({fmt::format("gear {}", g + 1), x, y});
  }
  page.picture(report::draw(chart), "Acceleration at full throttle in every gear");
}

inline void add_map(report::page& page, std::string caption, std::string unit, const fettle::map_file& map,
                    int decimals) {
  const auto& axes = map.table.axes();
  page.add(report::map_table{.caption = std::move(caption),
                             .rows = {"gear before the shift", axes[0].points()},
                             .columns = {"engine speed in rpm before the shift", axes[1].points()},
                             .values = map.table.values(),
                             .decimals = decimals,
                             .unit = std::move(unit)});
}

inline void add_down(report::page& page, const outcome& all) {
  page.section("Changing down");
  add_map(page, "Throttle of the blip", "%",
          gear_map(all, 2, of_blips(all, [](const auto& shift) { return shift.plan.pulse.peak_pct; }), 2), 0);
  add_map(page, "Time from the first movement until the throttle rests again", "s",
          gear_map(all, 2, of_blips(all, [](const auto& shift) { return shift.plan.pulse.duration_s; }), 4), 3);
  add_map(page,
          fmt::format("Torque at the driven wheels when the engine is {:g} % too fast", all.settings.speed_error_pct),
          "N m", gear_map(all, 2, of_blips(all, [](const auto& shift) { return shift.jolt.wheel_torque_nm; }), 0), 0);
  page.paragraph(fmt::format(
      "Empty cells: the new speed is above {:.0f} rpm, or cannot be reached in {:g} ms. The throttle opens and closes "
      "at {:g} %/s, and the torque follows {:g} revolutions later. The engine turns freely, with the clutch open or "
      "the dogs out, against its own inertia and friction only.{}",
      all.settings.limit_rpm, 1000 * all.settings.longest_blip_s, all.settings.actuator_pct_per_s,
      all.settings.delay_rev,
      all.settings.guard_rpm.empty()
          ? ""
          : " The throttle stays below the guard of the second bank, so that no fuel is put on its walls in a blip."));
  add_map(page, "Torque cut until the dogs carry nothing, changing up at full throttle", "ms",
          gear_map(all, 1, all.unload_ms, 1), 0);
}

}  // namespace detail

/// The whole report, one HTML file.
[[nodiscard]] inline std::string report_html(const outcome& all) {
  report::page page(all.settings.title, "Shift speeds, torque cuts and blips");
  detail::add_result(page, all);
  detail::add_up(page, all);
  detail::add_down(page, all);
  return page.html();
}

}  // namespace plan_shifts

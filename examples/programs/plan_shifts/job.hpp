// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <functional>
#include <string>
#include <utility>
#include <vector>

#include "fettle/error.hpp"
#include "fettle/io/map_csv.hpp"
#include "fettle/io/text.hpp"
#include "fettle/map/interpolate.hpp"
#include "fettle/vehicle.hpp"
#include "plan_shifts/settings.hpp"

namespace plan_shifts {

/// A change up at full throttle.
struct up_shift {
  std::size_t from_gear = 0;
  double rpm = 0, speed_kmh = 0, rpm_after = 0;
  bool at_limit = false;  ///< the lower gear pulls better up to the limiter
  double unload_s = 0;    ///< torque cut until the dogs carry nothing; NaN: never by the cut alone
  double fall_s = 0;      ///< the engine's own fall to its new speed
};

/// A change down.
struct down_shift {
  std::size_t from_gear = 0;
  double rpm = 0, rpm_after = 0;
  fettle::blip<double> plan{};
  double error_low_pct = 0, error_high_pct = 0;  ///< of the new speed when the engine has 10 % less or more torque
  fettle::engagement<double> jolt{};             ///< when the speed is off by speed_error_pct
  bool is_driven = false;                        ///< false: the new speed is above the limit
};

/// The result of one run.
struct outcome {
  plan_shifts::settings settings;
  fettle::map_file torque;
  std::vector<up_shift> up{};
  std::vector<double> rpm{};        ///< of the maps
  std::vector<down_shift> down{};   ///< gears 2 and up by rpm, row-major
  std::vector<double> unload_ms{};  ///< gears 1 to the last but one, by rpm
};

using stage_progress = std::function<void(const std::string& stage, double fraction)>;

namespace detail {

/// Refuses a torque map in other units, or with signs that no engine has.
inline void require_torque(const fettle::map_file& map, const settings& settings) {
  const std::string name = fettle::path_text(settings.torque_path);
  const auto& throttle = map.table.axes()[1].points();
  if (!(throttle.back() >= 50 && throttle.back() <= 110))
    throw fettle::error(fmt::format(
        "{}: throttle_pct ends at {:g}, expected percent, 100 at full throttle; is it a fraction or an angle?", name,
        throttle.back()));
  constexpr double most_nm = 10'000;
  for (const double nm : map.table.values())
    if (!(std::abs(nm) <= most_nm))
      throw fettle::error(
          fmt::format("{}: holds a torque of {:g}, expected N m, from {:g} to {:g}", name, nm, -most_nm, most_nm));
  for (const double at : map.table.axes()[0].points()) {
    const double rpm = std::clamp(at, settings.lowest_rpm, settings.limit_rpm);
    const double nm = fettle::interpolate(map.table.view<2>(), rpm, throttle.back());
    if (!(nm > 0))
      throw fettle::error(
          fmt::format("{}: torque at {:g} rpm and full throttle is {:g} N m, expected more than 0 from "
                      "lowest_rpm to limit_rpm; check the signs, and the order of the throttle axis",
                      name, rpm, nm));
  }
}

[[nodiscard]] inline fettle::map_file read_torque(const settings& settings) {
  fettle::map_file map = fettle::read_map_csv(settings.torque_path);
  if (map.axis_names != std::vector<std::string>{"rpm", "throttle_pct"})
    throw fettle::error(
        fettle::path_text(settings.torque_path) +
        ": is not a map of torque over rpm and throttle_pct; its first cell must read rpm/throttle_pct");
  const auto& rpm = map.table.axes()[0].points();
  if (rpm.back() < settings.limit_rpm)
    throw fettle::error(fmt::format(
        "{}: torque ends at {:g} rpm, below limit_rpm {:g} of {}; expected torque up to the limit",
        fettle::path_text(settings.torque_path), rpm.back(), settings.limit_rpm, fettle::path_text(settings.path)));
  require_torque(map, settings);
  return map;
}

/// Torque without combustion.
[[nodiscard]] inline double overrun_nm(const outcome& all, double rpm) {
  const auto& settings = all.settings;
  if (settings.overrun_rpm.empty()) return fettle::interpolate(all.torque.table.view<2>(), rpm, settings.closed_pct);
  return fettle::interpolate(fettle::map_view<1, double>{{{{settings.overrun_rpm.data(), settings.overrun_rpm.size()}}},
                                                         settings.overrun_nm.data()},
                             rpm);
}

inline void require_overrun(const outcome& all) {
  for (const double rpm : all.rpm)
    if (!(overrun_nm(all, rpm) < 0))
      throw fettle::error(fmt::format(
          "{}: torque on the overrun at {:g} rpm is {:g} N m; expected less than 0, since friction "
          "unloads the dogs and slows the engine down. {}",
          fettle::path_text(all.settings.path), rpm, overrun_nm(all, rpm),
          all.settings.overrun_rpm.empty() ? "The map at closed throttle shows it only above idle speed: give "
                                             "\"overrun\": {\"rpm\": [...], \"torque_nm\": [...]}"
                                           : "Check the signs under /overrun"));
}

/// Full-load torque over speed.
[[nodiscard]] inline std::vector<double> full_load(const fettle::map_file& torque) {
  std::vector<double> result;
  for (const double rpm : torque.table.axes()[0].points())
    result.push_back(fettle::interpolate(torque.table.view<2>(), rpm, 1e9));  // the end holds: widest throttle
  return result;
}

[[nodiscard]] inline double unload_s(const outcome& all, std::size_t gear, double rpm) {
  const auto& settings = all.settings;
  const auto& line = settings.vehicle.gears[gear];
  const double v = fettle::road_speed_mps(line, rpm);
  const auto view = all.torque.table.view<2>();
  return fettle::unload_time_s<double>({.rpm = rpm,
                                        .driving_nm = fettle::interpolate(view, rpm, 1e9),
                                        .overrun_nm = overrun_nm(all, rpm),
                                        .latency_s = settings.cut_latency_s},
                                       fettle::unloaded_torque_nm(settings.vehicle.car, line, {.speed_mps = v}));
}

/// Time in which friction alone slows the free engine down.
[[nodiscard]] inline double fall_s(const outcome& all, double from_rpm, double to_rpm) {
  constexpr int steps = 100;
  double sum = 0;
  for (int i = 0; i < steps; ++i) {
    const double rpm = to_rpm + (from_rpm - to_rpm) * (i + 0.5) / steps;
    sum += fettle::rad_per_s_of((from_rpm - to_rpm) / steps) * all.settings.vehicle.car.turning.engine_kgm2 /
           -overrun_nm(all, rpm);
  }
  return sum;
}

inline void add_up_shifts(outcome& all) {
  const auto& settings = all.settings;
  const auto torque = full_load(all.torque);
  const auto& speeds = all.torque.table.axes()[0].points();
  const fettle::map_view<1, double> curve{{{{speeds.data(), speeds.size()}}}, torque.data()};
  for (std::size_t g = 0; g + 1 < settings.vehicle.gears.size(); ++g) {
    const fettle::gear_pair<double> pair{settings.vehicle.gears[g], settings.vehicle.gears[g + 1]};
    up_shift shift{.from_gear = g + 1};
    shift.rpm = fettle::best_shift_rpm(settings.vehicle.car, pair, curve, {settings.lowest_rpm, settings.limit_rpm});
    shift.at_limit = shift.rpm == settings.limit_rpm;
    const double v = fettle::road_speed_mps(pair.lower, shift.rpm);
    shift.speed_kmh = 3.6 * v;
    shift.rpm_after = fettle::engine_rpm(pair.higher, v);
    shift.unload_s = unload_s(all, g, shift.rpm);
    shift.fall_s = fall_s(all, shift.rpm, shift.rpm_after);
    all.up.push_back(shift);
  }
}

/// The widest throttle for a blip: what keeps a second bank of injectors shut from the speed the blip begins at.
[[nodiscard]] inline double widest_pct(const settings& settings, double rpm) {
  if (settings.guard_rpm.empty()) return 100;
  return fettle::interpolate(fettle::map_view<1, double>{{{{settings.guard_rpm.data(), settings.guard_rpm.size()}}},
                                                         settings.guard_throttle_pct.data()},
                             rpm);
}

[[nodiscard]] inline down_shift plan_down_shift(const outcome& all, std::size_t gear, double rpm) {
  const auto& settings = all.settings;
  const auto &from = settings.vehicle.gears[gear], &to = settings.vehicle.gears[gear - 1];
  down_shift shift{.from_gear = gear + 1, .rpm = rpm};
  shift.rpm_after = fettle::rpm_after_shift(rpm, from.gear_ratio, to.gear_ratio);
  shift.is_driven = shift.rpm_after <= settings.limit_rpm;
  if (!shift.is_driven) return shift;
  fettle::free_engine<double> engine{.torque_nm = all.torque.table.view<2>(),
                                     .inertia_kgm2 = settings.vehicle.car.turning.engine_kgm2,
                                     .closed_pct = settings.closed_pct,
                                     .actuator_pct_per_s = settings.actuator_pct_per_s,
                                     .delay_rev = settings.delay_rev};
  shift.plan = fettle::plan_blip<double>(
      engine, {rpm, shift.rpm_after, settings.blip_s, settings.longest_blip_s, widest_pct(settings, rpm)});
  const auto error_pct = [&](double torque_factor) {  // a torque off by a factor is an inertia off by its inverse
    auto wrong = engine;
    wrong.inertia_kgm2 /= torque_factor;
    return 100 * (fettle::rpm_after_pulse(wrong, rpm, shift.plan.pulse) / shift.rpm_after - 1);
  };
  shift.error_low_pct = error_pct(0.9);
  shift.error_high_pct = error_pct(1.1);
  shift.jolt =
      fettle::engage(settings.vehicle.car, to, settings.speed_error_pct / 100 * shift.rpm_after, settings.engagement_s);
  return shift;
}

/// Every 500 rpm, and the limit.
inline void make_grid(outcome& all) {
  const auto& settings = all.settings;
  for (double rpm = settings.lowest_rpm; rpm < settings.limit_rpm - 100; rpm += 500) all.rpm.push_back(rpm);
  all.rpm.push_back(settings.limit_rpm);
}

}  // namespace detail

/// Plans all shifts of a session.
///
/// Errors: `fettle::error` naming the torque map and what is wrong with it.
[[nodiscard]] inline outcome run(const settings& settings, const stage_progress& progress) {
  outcome all{.settings = settings, .torque = detail::read_torque(settings)};
  detail::make_grid(all);
  detail::require_overrun(all);
  detail::add_up_shifts(all);
  const std::size_t gears = settings.vehicle.gears.size();
  for (std::size_t g = 0; g + 1 < gears; ++g)
    for (const double rpm : all.rpm) all.unload_ms.push_back(1000 * detail::unload_s(all, g, rpm));
  for (std::size_t g = 1; g < gears; ++g) {
    progress("planning blips", static_cast<double>(g) / static_cast<double>(gears));
    for (const double rpm : all.rpm) all.down.push_back(detail::plan_down_shift(all, g, rpm));
  }
  return all;
}

}  // namespace plan_shifts

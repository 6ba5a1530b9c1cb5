// SPDX-License-Identifier: MIT
#include "virtual_engine/plan_drive.hpp"

#include <algorithm>
#include <cstddef>

#include "virtual_engine/dice.hpp"

namespace virtual_engine {

drive plan_drive(const std::vector<planned_leg>& legs, std::uint64_t seed, double minutes) {
  constexpr double transit_s = 1.5, steady_s = 6, sweep_s = 12, step_s = 0.5;
  dice draw{seed, 8};
  drive result{.name = "plan", .points = {}};
  drive_point now{.rpm = legs.front().from.rpm,
                  .throttle_pct = legs.front().from.throttle_pct,
                  .air_kpa = draw.uniform(97, 101),
                  .air_degc = draw.uniform(18, 28),
                  .battery_v = 13.6};
  result.points.push_back(now);
  const auto go = [&](double in_s, const planned_point& to) {
    now.time_s += in_s;
    now.rpm = std::max(700.0, to.rpm + 10 * draw.normal());
    now.throttle_pct = std::clamp(to.throttle_pct + 0.2 * draw.normal(), 0.0, 100.0);
    now.air_degc += 0.005 * in_s;
    result.points.push_back(now);
  };
  for (std::size_t round = 0; now.time_s < 60 * minutes; ++round)
    for (const planned_leg& leg : legs) {
      const planned_point &start = round % 2 == 0 ? leg.from : leg.to, &end = round % 2 == 0 ? leg.to : leg.from;
      const double leg_s = leg.is_sweep() ? sweep_s : steady_s;
      go(transit_s, start);
      for (double t = step_s; t <= leg_s; t += step_s) {
        const double way = t / leg_s;
        go(step_s, {start.rpm + way * (end.rpm - start.rpm),
                    start.throttle_pct + way * (end.throttle_pct - start.throttle_pct)});
      }
      if (now.time_s >= 60 * minutes) break;
    }
  return result;
}

}  // namespace virtual_engine

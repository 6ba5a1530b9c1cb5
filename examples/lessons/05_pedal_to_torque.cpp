// SPDX-License-Identifier: MIT
// Drive-by-wire: with a throttle per cylinder a touch of the pedal is most of the torque. The inverse of the torque map
// gives throttle over speed and torque; a pedal curve on top of it makes torque follow the foot.
#include <cmath>
#include <cstdio>
#include <span>
#include <vector>

#include "fettle/fit/demand_map.hpp"
#include "fettle/fit/invert_table.hpp"
#include "lesson.hpp"

namespace {

double torque_nm(double speed_rpm, double throttle_pct) {
  const double full = 262 - 3e-6 * (speed_rpm - 6500) * (speed_rpm - 6500), friction = 14 + speed_rpm * 3e-3;
  return (full + friction) * (1 - std::exp(-throttle_pct * 250 / speed_rpm)) - friction;
}

}  // namespace

int main(int count, char** words) {
  double rpm = 3000;
  fettle::pedal_rates rates{.actuator_pct_per_s = 800, .pedal_pct_per_s = 250};
  const program::command about{
      "pedal_to_torque",
      "Makes torque follow the pedal, with a throttle per cylinder.",
      {{"--rpm", &rpm, "speed at which torque is shown, rpm", 1500, 9000},
       {"--actuator-pct-per-s", &rates.actuator_pct_per_s, "how fast the throttle moves", 1, 1e5},
       {"--pedal-pct-per-s", &rates.pedal_pct_per_s, "how fast the pedal moves", 0, 1e5}}};
  return lesson::run(about, count, words, [&] {
    using axis = fettle::dynamic_axis<double>;
    const auto speed_rpm = *axis::from({1500, 3000, 4500, 6000, 7500, 9000});
    const auto throttle_pct = *axis::from({0, 1, 2, 4, 6, 9, 13, 18, 25, 35, 50, 70, 100});
    std::vector<double> cells;
    for (const double speed : speed_rpm.points())
      for (const double pct : throttle_pct.points()) cells.push_back(torque_nm(speed, pct));
    const auto torque = *fettle::dynamic_table<double>::from({speed_rpm, throttle_pct}, cells);
    const auto part = [&](double throttle) {  // of the torque at this speed
      const auto at = [&](double pct) { return fettle::interpolate(torque.view<2>(), rpm, pct); };
      return 100 * (at(throttle) - at(0)) / (at(100) - at(0));
    };
    std::printf("pedal = throttle: 10 %% of pedal is %.0f %% of the torque, 30 %% is %.0f %%\n", part(10), part(30));

    // [invert]
    const auto inverse = fettle::invert_table(torque, fettle::even_demands(torque, 25), {.along = 1});
    std::printf("inverse: %.0e N m at its cells, %.1f N m between; %zu demands too high, %zu too low\n",
                inverse.node_error, inverse.between_error, inverse.count(fettle::demand_status::too_high),
                inverse.count(fettle::demand_status::too_low));
    // [/invert]

    // [demand]
    const auto pedal_pct = *axis::from({0, 5, 10, 20, 30, 40, 50, 60, 70, 80, 90, 95, 100});
    const auto demand = fettle::make_demand_map(torque, pedal_pct, {}, rates);
    // [/demand]
    std::vector<double> direct, followed;
    for (const double pedal : pedal_pct.points()) {
      direct.push_back(part(pedal));
      followed.push_back(part(fettle::interpolate(demand.throttle_pct.view<2>(), rpm, pedal)));
    }
    std::printf(
        "pedal map: 10 %% of pedal is %.0f %% of the torque, 30 %% is %.0f %%; steepest %.1f %% of throttle per %% of "
        "pedal, at most %.1f %% of torque too much or %.1f %% too little\n",
        followed[2], followed[4], demand.steepest, 100 * demand.excess_share, 100 * demand.missing_share);
    return lesson::picture{
        "pedal in %",
        "torque in % of that at full throttle",
        {{"throttle follows the pedal", pedal_pct.points(), direct}, {"pedal map", pedal_pct.points(), followed}}};
  });
}

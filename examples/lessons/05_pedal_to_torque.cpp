// SPDX-License-Identifier: MIT
// Drive-by-wire: with a throttle per cylinder a touch of the pedal is most of the torque. The inverse of the torque map
// gives throttle over speed and torque; a pedal curve on top of it makes torque follow the foot. Writes a picture.
#include <cmath>
#include <cstdio>
#include <fstream>
#include <span>
#include <vector>

#include "common/report/line_chart.hpp"
#include "fettle/fit/demand_map.hpp"
#include "fettle/fit/invert_table.hpp"

namespace {

double torque_nm(double speed_rpm, double throttle_pct) {
  const double full = 262 - 3e-6 * (speed_rpm - 6500) * (speed_rpm - 6500), friction = 14 + speed_rpm * 3e-3;
  return (full + friction) * (1 - std::exp(-throttle_pct * 250 / speed_rpm)) - friction;
}

}  // namespace

int main(int count, char** words) {
  using axis = fettle::dynamic_axis<double>;
  const auto speed_rpm = *axis::from({1500, 3000, 4500, 6000, 7500, 9000});
  const auto throttle_pct = *axis::from({0, 1, 2, 4, 6, 9, 13, 18, 25, 35, 50, 70, 100});
  std::vector<double> cells;
  for (const double rpm : speed_rpm.points())
    for (const double pct : throttle_pct.points()) cells.push_back(torque_nm(rpm, pct));
  const auto torque = *fettle::dynamic_table<double>::from({speed_rpm, throttle_pct}, cells);
  const auto part = [&](double throttle) {  // of the torque at 3000 rpm
    const auto at = [&](double pct) { return fettle::interpolate(torque.view<2>(), 3000.0, pct); };
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
  const auto demand =
      fettle::make_demand_map(torque, pedal_pct, {}, {.actuator_pct_per_s = 800, .pedal_pct_per_s = 250});
  // [/demand]
  std::vector<double> direct, followed;
  for (const double pedal : pedal_pct.points()) {
    direct.push_back(part(pedal));
    followed.push_back(part(fettle::interpolate(demand.throttle_pct.view<2>(), 3000.0, pedal)));
  }
  std::printf(
      "pedal map: 10 %% of pedal is %.0f %% of the torque, 30 %% is %.0f %%; steepest %.1f %% of throttle per %% of "
      "pedal, at most %.1f %% of torque too much or %.1f %% too little\n",
      followed[2], followed[4], demand.steepest, 100 * demand.excess_share, 100 * demand.missing_share);
  const auto picture =
      report::draw(report::line_chart{.x_label = "pedal in %",
                                      .y_label = "torque in % at 3000 rpm",
                                      .series = {{"throttle follows the pedal", pedal_pct.points(), direct},
                                                 {"pedal map", pedal_pct.points(), followed}}});
  if (count > 1 && picture) std::ofstream(words[1]) << *picture;
}

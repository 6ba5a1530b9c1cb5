// SPDX-License-Identifier: MIT
// A blip on a down-shift and a second bank of injectors outside the trumpets: opened wide for a tenth of a second, the
// second bank wets its walls, and the fuel comes off when the throttle is shut. Below its guard it stays dry. Draws both.
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <fstream>
#include <vector>

#include "common/report/line_chart.hpp"
#include "fettle/fuel/film.hpp"
#include "fettle/map.hpp"
#include "fettle/vehicle/blip.hpp"

namespace {

constexpr fettle::axis<double, 3> speed_rpm{{1000, 5000, 9000}};
constexpr fettle::axis<double, 6> throttle_pct{{0, 5, 12, 25, 45, 100}};
constexpr fettle::table torque_nm{speed_rpm,
                                  throttle_pct,
                                  {-18, 90, 160, 185, 195, 200,  //
                                   -30, 15, 90, 170, 225, 255,   //
                                   -58, -35, 10, 85, 160, 225}};
constexpr fettle::axis<double, 2> guard_rpm{{1000, 9000}};
constexpr fettle::table guard_pct{guard_rpm, {22, 30}};
constexpr fettle::wall_film<double> film{.deposited = 0.45, .evaporation_ms = 600};
constexpr double actuator_pct_per_s = 900, delay_rev = 1.2;

struct trace {
  std::vector<double> time_ms, throttle, wall_mg;
};

/// Fuel of the second bank on one cylinder's wall, cycle by cycle: half the fuel above the guard, 0.4 mg per % of throttle.
trace drive(const fettle::blip<double>& blip, double rpm) {
  trace result;
  double wall_mg = 0;
  const double cycle_ms = 120e3 / rpm;
  for (double t = 0; t < 900; t += cycle_ms) {
    const double throttle = blip.pulse.at(t / 1000, 0, actuator_pct_per_s);
    const double injected = throttle > fettle::interpolate(guard_pct, rpm) ? 0.5 * 0.4 * throttle : 0;
    wall_mg = fettle::inject(fettle::film_over(film, cycle_ms), wall_mg, injected).film_mg;
    result.time_ms.push_back(t);
    result.throttle.push_back(throttle);
    result.wall_mg.push_back(wall_mg);
  }
  return result;
}

}  // namespace

int main(int count, char** words) {
  // [blip]
  const fettle::free_engine<double> engine{torque_nm.view(), 0.1, 0, actuator_pct_per_s, delay_rev};
  const double from = 5600, to = 5600 * 2.0 / 1.62;  // third gear to second
  const auto wide = fettle::plan_blip<double>(engine, {from, to, 0.11, 0.5, 100});
  const auto dry = fettle::plan_blip<double>(engine, {from, to, 0.11, 0.5, fettle::interpolate(guard_pct, from)});
  // [/blip]
  const trace open = drive(wide, from), guarded = drive(dry, from);
  const auto most = [](const std::vector<double>& x) { return *std::max_element(x.begin(), x.end()); };
  std::printf("%.0f to %.0f rpm\n", from, to);
  std::printf("as quick as asked: %.0f %% of throttle, %.0f ms, up to %.1f mg on the wall of each port\n",
              wide.pulse.peak_pct, 1000 * wide.pulse.duration_s, most(open.wall_mg));
  std::printf("below the guard:   %.0f %% of throttle, %.0f ms, %.1f mg\n", dry.pulse.peak_pct,
              1000 * dry.pulse.duration_s, most(guarded.wall_mg));
  const auto picture =
      report::draw(report::line_chart{.x_label = "time in ms",
                                      .y_label = "throttle in %, fuel on the wall in mg",
                                      .series = {{"throttle, as quick as asked", open.time_ms, open.throttle},
                                                 {"its fuel on the wall", open.time_ms, open.wall_mg},
                                                 {"throttle below the guard", guarded.time_ms, guarded.throttle},
                                                 {"its fuel on the wall", guarded.time_ms, guarded.wall_mg}}});
  if (count > 1 && picture) std::ofstream(words[1]) << *picture;
}

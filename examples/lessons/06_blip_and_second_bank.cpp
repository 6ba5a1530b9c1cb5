// SPDX-License-Identifier: MIT
// A blip on a down-shift and a second bank of injectors outside the trumpets: opened wide for a tenth of a second, the
// second bank wets its walls, and the fuel comes off when the throttle is shut. Below its guard it stays dry.
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <vector>

#include "fettle/fuel/film.hpp"
#include "fettle/map.hpp"
#include "fettle/vehicle/blip.hpp"
#include "lesson.hpp"

namespace {

constexpr fettle::axis<double, 3> speed_rpm{{1000, 5000, 9000}};
constexpr fettle::axis<double, 6> throttle_pct{{0, 5, 12, 25, 45, 100}};
constexpr fettle::table torque_nm{speed_rpm,
                                  throttle_pct,
                                  {-18, 90, 160, 185, 195, 200,  //
                                   -30, 15, 90, 170, 225, 255,   //
                                   -58, -35, 10, 85, 160, 225}};
// [share]
constexpr fettle::axis<double, 2> share_rpm{{1000, 9000}};
constexpr fettle::axis<double, 4> share_throttle_pct{{0, 26, 40, 100}};
constexpr fettle::table share_pct{share_rpm, share_throttle_pct, {0, 0, 30, 50, 0, 0, 50, 70}};  // of the second bank
constexpr double guard_pct = share_throttle_pct.points()[1];  // the widest throttle without a share
// [/share]
constexpr double delay_rev = 1.2;

/// What a reader may change.
struct settings {
  double from_rpm = 5600;
  double actuator_pct_per_s = 900;
  fettle::wall_film<double> film{.deposited = 0.45, .evaporation_ms = 600};
};

struct trace {
  std::vector<double> time_ms, throttle, share, wall_mg;
};

/// Cycle by cycle: throttle, share of the second bank, and its fuel on one cylinder's wall; 0.4 mg of fuel per % of throttle.
trace drive(const fettle::blip<double>& blip, const settings& with) {
  trace result;
  double wall_mg = 0;
  const double cycle_ms = 120e3 / with.from_rpm;
  for (double t = 0; t < 900; t += cycle_ms) {
    const double throttle = blip.pulse.at(t / 1000, 0, with.actuator_pct_per_s);
    const double share = fettle::interpolate(share_pct, with.from_rpm, throttle);
    wall_mg = fettle::inject(fettle::film_over(with.film, cycle_ms), wall_mg, share / 100 * 0.4 * throttle).film_mg;
    result.time_ms.push_back(t);
    result.throttle.push_back(throttle);
    result.share.push_back(share);
    result.wall_mg.push_back(wall_mg);
  }
  return result;
}

}  // namespace

int main(int count, char** words) {
  settings with;
  double deposited_pct = 45;
  const program::command about{
      "blip_and_second_bank",
      "Shows what a blip leaves on the walls of a second bank.",
      {{"--from-rpm", &with.from_rpm, "speed before the change of gear, rpm", 2000, 7000},
       {"--actuator-pct-per-s", &with.actuator_pct_per_s, "how fast the throttle moves", 100, 1e5},
       {"--deposited-pct", &deposited_pct, "share of its fuel that lands on the wall", 0, 95},
       {"--evaporation-ms", &with.film.evaporation_ms, "time for it to come off", 10, 10000}}};
  return lesson::run(about, count, words, [&] {
    with.film.deposited = deposited_pct / 100;
    // [blip]
    const fettle::free_engine<double> engine{torque_nm.view(), 0.1, 0, with.actuator_pct_per_s, delay_rev};
    const double from = with.from_rpm, to = from * 2.0 / 1.62;  // third gear to second
    const auto wide = fettle::plan_blip<double>(engine, {from, to, 0.11, 0.5, 100});
    const auto dry = fettle::plan_blip<double>(engine, {from, to, 0.11, 0.5, guard_pct});
    // [/blip]
    const trace open = drive(wide, with), guarded = drive(dry, with);
    const auto most = [](const std::vector<double>& x) { return *std::max_element(x.begin(), x.end()); };
    const auto opened_pct =
        [&](const fettle::throttle_pulse<double>& pulse) {  // half way through; a short pulse is a peak
          return pulse.at(pulse.duration_s / 2, 0, with.actuator_pct_per_s);
        };
    std::printf("%.0f to %.0f rpm\n", from, to);
    std::printf(
        "fast:            %.0f %% of throttle, %.0f ms, second bank up to %.0f %%, %.1f mg on each wall; %.0f rpm\n",
        opened_pct(wide.pulse), 1000 * wide.pulse.duration_s, most(open.share), most(open.wall_mg), wide.end_rpm);
    std::printf(
        "below the guard: %.0f %% of throttle, %.0f ms, second bank up to %.0f %%, %.1f mg on each wall; %.0f rpm\n",
        opened_pct(dry.pulse), 1000 * dry.pulse.duration_s, most(guarded.share), most(guarded.wall_mg), dry.end_rpm);
    return lesson::picture{"time in ms",
                           "throttle and share in %, fuel on the wall in mg",
                           {{"throttle, fast", open.time_ms, open.throttle},
                            {"share of the second bank", open.time_ms, open.share},
                            {"its fuel on the wall", open.time_ms, open.wall_mg},
                            {"throttle, below the guard", guarded.time_ms, guarded.throttle},
                            {"its fuel on the wall, below the guard", guarded.time_ms, guarded.wall_mg}}};
  });
}

// SPDX-License-Identifier: MIT
// Air per cycle from scattered measurements: fitted to a map, limited to the shape it must have, then put on the few
// breakpoints that a controller has room for.
#include <cmath>
#include <cstdio>
#include <random>
#include <span>
#include <vector>

#include "fettle/fit/best_breakpoints.hpp"
#include "fettle/fit/compare.hpp"
#include "fettle/fit/curve.hpp"
#include "fettle/fit/fit_table.hpp"
#include "fettle/fit/limit_shape.hpp"
#include "fettle/fit/rebin.hpp"

namespace {

double air_mg(double speed_rpm, double throttle_pct) {
  const double full = 540 - 3e-6 * (speed_rpm - 6000) * (speed_rpm - 6000);
  return full * (0.06 + 0.94 * throttle_pct / (throttle_pct + speed_rpm / 400) * (1 + speed_rpm / 40000));
}

}  // namespace

int main() {
  using axis = fettle::dynamic_axis<double>;
  const auto speed_rpm = *axis::from({2000, 4000, 6000, 8000});
  const auto throttle_pct = *axis::from({0, 3, 6, 10, 15, 22, 30, 40, 55, 75, 100});

  std::mt19937 random(5);
  const auto draw = [&random] { return static_cast<double>(random()) / 0x1p32; };  // 0 to 1, the same everywhere
  std::vector<double> at, value;
  for (int i = 0; i < 400; ++i) {
    const double speed = 2000 + 6000 * draw(), throttle = 100 * std::pow(draw(), 2);
    const bool wrong = i % 40 == 0;  // a sensor that fails now and then
    at.insert(at.end(), {speed, throttle});
    value.push_back(air_mg(speed, throttle) + 16 * (draw() - 0.5) + (wrong ? 150 : 0));
  }

  // [fit]
  const auto fitted = fettle::fit_table({speed_rpm, throttle_pct}, at, value, {}, {.by = fettle::loss::tukey});
  // [/fit]
  std::printf("noise %.1f mg, %.1f effective parameters for %zu cells\n", fitted.noise, fitted.effective_parameters,
              fitted.table.size());

  // [shape]
  const fettle::shape_limit wanted[] = {{.keep = fettle::shape::non_decreasing, .axis = 1},
                                        {.keep = fettle::shape::concave, .axis = 1}};
  const auto shaped = fettle::limit_shape(fitted.table, wanted, fitted.standard_error);
  const auto moved = fettle::compare(fitted.table, shaped, 1.0);
  // [/shape]
  std::printf("%s", fettle::to_text(moved, 3).c_str());

  // [rebin]
  const auto few = fettle::best_breakpoints(shaped, 1, 6);
  const auto small = fettle::rebin(shaped, {speed_rpm, few.axis});
  // [/rebin]
  std::printf("throttle at");
  for (const double x : few.axis.points()) std::printf(" %g", x);
  std::printf(" %%: largest error %.1f mg at %.0f rpm and %.0f %%, rms %.1f mg\n", small.largest_error,
              small.largest_at[0], small.largest_at[1], small.rms_error);

  // [curve]
  const auto at_8000_rpm = std::span(small.table.values()).last(few.axis.size());
  const fettle::curve smooth(few.axis, at_8000_rpm, fettle::curve_rule::monotone);
  // [/curve]
  std::printf("8000 rpm and 50 %%: %.1f mg\n", smooth(50));
}

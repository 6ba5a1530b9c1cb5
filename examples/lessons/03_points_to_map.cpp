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
#include "fettle/map/interpolate.hpp"
#include "lesson.hpp"

namespace {

double air_mg(double speed_rpm, double throttle_pct) {
  const double full = 540 - 3e-6 * (speed_rpm - 6000) * (speed_rpm - 6000);
  return full * (0.06 + 0.94 * throttle_pct / (throttle_pct + speed_rpm / 400) * (1 + speed_rpm / 40000));
}

/// Measurements of air, one in forty of them by a sensor that fails.
struct measurements {
  std::vector<double> at;  ///< speed, throttle, speed, ..
  std::vector<double> value_mg;
  lesson::line near_8000_rpm{"measured above 7500 rpm", {}, {}, lesson::line::dots};
};

measurements measure(int count, double wrong_by_mg) {
  std::mt19937 random(5);
  const auto draw = [&random] { return static_cast<double>(random()) / 0x1p32; };  // 0 to 1, the same everywhere
  measurements result;
  for (int i = 0; i < count; ++i) {
    const double rpm = 2000 + 6000 * draw(), pct = 100 * std::pow(draw(), 2);
    result.at.insert(result.at.end(), {rpm, pct});
    result.value_mg.push_back(air_mg(rpm, pct) + 16 * (draw() - 0.5) + (i % 40 == 0 ? wrong_by_mg : 0));
    if (rpm < 7500) continue;
    result.near_8000_rpm.x.push_back(pct);
    result.near_8000_rpm.y.push_back(result.value_mg.back());
  }
  return result;
}

/// Over throttle, at 8000 rpm.
template <class Value>
lesson::line drawn(const char* name, Value value) {
  lesson::line result{name, {}, {}};
  for (double pct = 0; pct <= 100; ++pct) {
    result.x.push_back(pct);
    result.y.push_back(value(pct));
  }
  return result;
}

}  // namespace

int main(int count, char** words) {
  double points = 400, wrong_by_mg = 150, breakpoints = 6;
  bool by_squares = false;
  const program::command about{
      "points_to_map",
      "Fits a map to scattered measurements and puts it on few breakpoints.",
      {{"--points", &points, "how many measurements", 100, 100000},
       {"--wrong-by-mg", &wrong_by_mg, "by how much one in forty of them is wrong, mg", -1000, 1000},
       {"--least-squares", &by_squares, "fit by least squares; otherwise by Tukey's loss"},
       {"--breakpoints", &breakpoints, "how many of throttle the controller has", 2, 11}}};
  return lesson::run(about, count, words, [&] {
    using axis = fettle::dynamic_axis<double>;
    const auto speed_rpm = *axis::from({2000, 4000, 6000, 8000});
    const auto throttle_pct = *axis::from({0, 3, 6, 10, 15, 22, 30, 40, 55, 75, 100});
    const auto measured = measure(static_cast<int>(points), wrong_by_mg);
    const auto loss = by_squares ? fettle::loss::squares : fettle::loss::tukey;

    // [fit]
    const auto fitted =
        fettle::fit_table({speed_rpm, throttle_pct}, measured.at, measured.value_mg, {}, {.loss = loss});
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
    const auto few = fettle::best_breakpoints(shaped, 1, static_cast<std::size_t>(breakpoints));
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
    std::printf("8000 rpm and 50 %%: %.1f mg, truth %.1f mg\n", smooth(50), air_mg(8000, 50));
    const auto read = [&](double pct) { return fettle::interpolate(fitted.table.view<2>(), 8000.0, pct); };
    return lesson::picture{"throttle in %",
                           "air in mg at 8000 rpm",
                           {measured.near_8000_rpm, drawn("truth", [](double pct) { return air_mg(8000, pct); }),
                            drawn("fitted", read), drawn("on few breakpoints, monotone curve", smooth)}};
  });
}

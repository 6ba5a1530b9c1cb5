// SPDX-License-Identifier: MIT
// A map with a hole and a bump that the measurements do not support: filled and smoothed, with a standard error for every cell.
#include <cmath>
#include <cstdio>
#include <vector>

#include "fettle/fit/fill.hpp"
#include "fettle/fit/smooth.hpp"
#include "lesson.hpp"

namespace {

void print(const char* heading, const fettle::fitted_map& map) {
  std::printf("%s\n", heading);
  for (std::size_t k = 0; k < map.table.size(); ++k)
    std::printf("%7.2f +-%5.2f%s", map.table.values()[k], map.standard_error[k], k % 4 == 3 ? "\n" : "");
}

/// Over throttle, at one of the speeds.
lesson::line at_speed(const char* name, const fettle::dynamic_table<double>& map, std::size_t speed) {
  const auto& pct = map.axes()[1].points();
  const auto row = map.values().subspan(speed * pct.size(), pct.size());
  return {name, pct, {row.begin(), row.end()}, lesson::line::with_points};
}

}  // namespace

int main(int count, char** words) {
  double bump_error_mg = 3, measured_error_mg = 0.1;
  const program::command about{
      "smooth_and_fill",
      "Fills a hole in a map and smooths a bump that the measurements do not support.",
      {{"--bump-error-mg", &bump_error_mg, "standard error of the bump, mg", 0.001, 1000},
       {"--error-mg", &measured_error_mg, "standard error of the other cells, mg", 0.001, 1000}}};
  return lesson::run(about, count, words, [&] {
    using axis = fettle::dynamic_axis<double>;
    const double hole = std::nan("");
    // [map]
    const auto fuel_mg = *fettle::dynamic_table<double>::from(
        {*axis::from({2000, 4000, 6000, 8000}), *axis::from({10, 40, 70, 100})},  // speed in rpm, throttle in %
        {12, 21, 30, 39, 11, 21, 33, 38, 10, 19, 28, 37, hole, 18, 27, 36});  // 33: a bump; nobody idles at 8000 rpm
    std::vector<double> error_mg(16, measured_error_mg);                      // 0.1
    error_mg[6] = bump_error_mg;                                              // 3
    // [/map]

    // [fill]
    const auto filled = fettle::fill(fuel_mg, {.standard_error = error_mg});
    const auto smooth = fettle::smooth(filled.table, {.standard_error = filled.standard_error});
    // [/fill]
    print("filled, mg", filled);
    print("smoothed, mg", smooth);
    return lesson::picture{
        "throttle in %",
        "fuel in mg",
        {at_speed("4000 rpm, measured", fuel_mg, 1), at_speed("4000 rpm, smoothed", smooth.table, 1),
         at_speed("8000 rpm, measured", fuel_mg, 3), at_speed("8000 rpm, smoothed", smooth.table, 3)}};
  });
}

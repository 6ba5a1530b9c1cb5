// SPDX-License-Identifier: MIT
// A map with a hole and a bump that the measurements do not support: filled and smoothed, with a standard error for every cell.
#include <cmath>
#include <cstdio>
#include <vector>

#include "fettle/fit/fill.hpp"
#include "fettle/fit/smooth.hpp"

namespace {

void print(const char* heading, const fettle::fitted_map& map) {
  std::printf("%s\n", heading);
  for (std::size_t k = 0; k < map.table.size(); ++k)
    std::printf("%7.2f +-%5.2f%s", map.table.values()[k], map.standard_error[k], k % 4 == 3 ? "\n" : "");
}

}  // namespace

int main() {
  using axis = fettle::dynamic_axis<double>;
  const double hole = std::nan("");
  // [map]
  const auto fuel_mg = *fettle::dynamic_table<double>::from(
      {*axis::from({2000, 4000, 6000, 8000}), *axis::from({10, 40, 70, 100})},  // speed in rpm, throttle in %
      {12, 21, 30, 39, 11, 21, 33, 38, 10, 19, 28, 37, hole, 18, 27, 36});      // 33: a bump; nobody idles at 8000 rpm
  std::vector<double> error_mg(16, 0.1);
  error_mg[6] = 3;
  // [/map]

  // [fill]
  const auto filled = fettle::fill(fuel_mg, {.standard_error = error_mg});
  const auto smooth = fettle::smooth(filled.table, {.standard_error = filled.standard_error});
  // [/fill]
  print("filled, mg", filled);
  print("smoothed, mg", smooth);
}

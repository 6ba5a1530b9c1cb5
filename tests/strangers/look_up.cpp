// SPDX-License-Identifier: MIT
// A stranger's program: one look-up, halfway between two cells.
#include <cstdio>

// [map]
#include "fettle/map.hpp"

constexpr fettle::axis<float, 3> speed_rpm{{1000, 3000, 9000}};
constexpr fettle::axis<float, 2> pressure_kpa{{40, 100}};
constexpr fettle::table mass_mg{speed_rpm, pressure_kpa, {4, 20, 5, 24, 6, 22}};
// [/map]

int main() {
  // [look_up]
  const float mass = fettle::interpolate(mass_mg, 2000, 100);
  // [/look_up]
  std::printf("%g mg\n", static_cast<double>(mass));
  return mass == 22 ? 0 : 1;
}

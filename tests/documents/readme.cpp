// SPDX-License-Identifier: MIT
// The code of README.md: compiled, and compared with it.
// [look_up]
#include "fettle/map.hpp"

constexpr fettle::axis<float, 3> speed_rpm{{1000, 3000, 9000}};
constexpr fettle::axis<float, 2> throttle_pct{{0, 100}};
constexpr fettle::table fuel_mg{speed_rpm, throttle_pct, {4, 20, 5, 24, 6, 22}};

static_assert(fettle::interpolate(fuel_mg, 3000, 100) == 24.0F);  // a map in flash, looked up by the compiler

float fuel(float rpm, float throttle) { return fettle::interpolate(fuel_mg, rpm, throttle); }
// [/look_up]

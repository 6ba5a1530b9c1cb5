// SPDX-License-Identifier: MIT
// expects: one_coordinate_per_axis
#include "fettle/map.hpp"

constexpr fettle::axis<float, 3> speed_rpm{{1000, 3000, 9000}};
constexpr fettle::axis<float, 2> pressure_kpa{{40, 100}};
constexpr fettle::table mass_mg{speed_rpm, pressure_kpa, {4, 20, 5, 24, 6, 22}};

#ifdef FETTLE_WRONG
constexpr float mass = fettle::interpolate(mass_mg, 3000, "60");
#else
constexpr float mass = fettle::interpolate(mass_mg, 3000, 60);
#endif

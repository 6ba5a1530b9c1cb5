// SPDX-License-Identifier: MIT
// expects: fettle::table needs one value per crossing of its axes
#include "fettle/map.hpp"

constexpr fettle::axis<float, 3> speed_rpm{{1000, 3000, 9000}};
constexpr fettle::axis<float, 2> pressure_kpa{{40, 100}};

#ifdef FETTLE_WRONG
constexpr fettle::table mass_mg{speed_rpm, pressure_kpa, {4, 20, 5, 24, 6, 22, 7}};
#else
constexpr fettle::table mass_mg{speed_rpm, pressure_kpa, {4, 20, 5, 24, 6, 22}};
#endif

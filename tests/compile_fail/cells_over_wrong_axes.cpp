// SPDX-License-Identifier: MIT
// expects: no matching
#include "fettle/map.hpp"

constexpr fettle::axis<float, 3> speed_rpm{{1000, 3000, 9000}};
constexpr fettle::axis<float, 2> pressure_kpa{{40, 100}};
constexpr fettle::cells<float, 3, 2> map{{1, 2, 3, 4, 5, 6}};

#ifdef FETTLE_WRONG
constexpr auto view = map.over(speed_rpm, speed_rpm);
#else
constexpr auto view = map.over(speed_rpm, pressure_kpa);
#endif

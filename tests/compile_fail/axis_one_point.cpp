// SPDX-License-Identifier: MIT
// expects: fettle::axis needs at least two breakpoints
#include "fettle/map.hpp"

#ifdef FETTLE_WRONG
constexpr fettle::axis<double, 1> speed_rpm{{1000}};
#else
constexpr fettle::axis<double, 2> speed_rpm{{1000, 2000}};
#endif

// SPDX-License-Identifier: MIT
// expects: breakpoints_must_be_finite_and_strictly_increasing
#include "fettle/map.hpp"

#ifdef FETTLE_WRONG
constexpr fettle::axis<double, 3> speed_rpm{{1000, 1000, 3000}};
#else
constexpr fettle::axis<double, 3> speed_rpm{{1000, 2000, 3000}};
#endif

// SPDX-License-Identifier: MIT
// expects: breakpoints_must_be_finite_and_strictly_increasing
#include "fettle/map.hpp"

#ifdef FETTLE_WRONG
constexpr fettle::axis<float, 3> speed_rpm{{3000, 2000, 1000}};
#else
constexpr fettle::axis<float, 3> speed_rpm{{1000, 2000, 3000}};
#endif

// SPDX-License-Identifier: MIT
// expects: breakpoints_must_be_finite_and_strictly_increasing
#include "fettle/map.hpp"

#ifdef FETTLE_WRONG
constexpr fettle::axis<double, 2> speed_rpm{{1000, std::numeric_limits<double>::infinity()}};
#else
constexpr fettle::axis<double, 2> speed_rpm{{1000, 1e300}};
#endif

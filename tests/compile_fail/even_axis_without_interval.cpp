// SPDX-License-Identifier: MIT
// expects: breakpoints_must_be_finite_and_strictly_increasing
#include "fettle/map.hpp"

#ifdef FETTLE_WRONG
constexpr fettle::even_axis<float> throttle_pct{0, -5, 21};
#else
constexpr fettle::even_axis<float> throttle_pct{0, 5, 21};
#endif

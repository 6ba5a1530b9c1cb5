// SPDX-License-Identifier: MIT
// expects: fettle::cells needs one value per crossing of its axes
#include "fettle/map.hpp"

#ifdef FETTLE_WRONG
constexpr fettle::cells<float, 2, 2> map{{1, 2, 3}};
#else
constexpr fettle::cells<float, 2, 2> map{{1, 2, 3, 4}};
#endif

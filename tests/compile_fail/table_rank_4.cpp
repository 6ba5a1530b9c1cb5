// SPDX-License-Identifier: MIT
// expects: fettle::table has rank 1, 2 or 3
#include "fettle/map.hpp"

#ifdef FETTLE_WRONG
using map = fettle::table<float, 2, 2, 2, 2>;
static_assert(map::rank == 4);
#else
using map = fettle::table<float, 2, 2, 2>;
static_assert(map::rank == 3);
#endif

// SPDX-License-Identifier: MIT
// expects: coordinate
#include "fettle/map.hpp"

#ifdef FETTLE_WRONG
constexpr fettle::axis<bool, 2> on{{false, true}};
#else
constexpr fettle::axis<unsigned char, 2> on{{0, 1}};
#endif

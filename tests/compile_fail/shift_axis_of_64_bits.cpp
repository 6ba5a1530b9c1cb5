// SPDX-License-Identifier: MIT
// expects: raw_integer
#include <cstdint>

#include "fettle/map.hpp"

#ifdef FETTLE_WRONG
constexpr auto axis = fettle::shift_axis<std::uint64_t>::from(0, 9, 16);
#else
constexpr auto axis = fettle::shift_axis<std::uint32_t>::from(0, 9, 16);
#endif

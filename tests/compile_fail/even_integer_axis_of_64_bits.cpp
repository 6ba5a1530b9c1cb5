// SPDX-License-Identifier: MIT
// expects: raw_integer
#include <cstdint>

#include "fettle/map.hpp"

#ifdef FETTLE_WRONG
constexpr auto axis = fettle::even_integer_axis<std::int64_t>::from(0, 500, 16);
#else
constexpr auto axis = fettle::even_integer_axis<std::int32_t>::from(0, 500, 16);
#endif

// SPDX-License-Identifier: MIT
// expects: raw_integer
#include <cstdint>

#include "fettle/map.hpp"

#ifdef FETTLE_WRONG
constexpr auto raw = fettle::linear_scaling<float>{}.raw<std::int64_t>(1);
#else
constexpr auto raw = fettle::linear_scaling<float>{}.raw<std::int32_t>(1);
#endif

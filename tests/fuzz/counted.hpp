// SPDX-License-Identifier: MIT
#pragma once

#include <cstdint>
#include <cstdio>

namespace fuzz {

/// Single values read from a map, printed at the end: one execution reads many.
inline struct counter {
  std::uint64_t value = 0;
  ~counter() { std::fprintf(stderr, "look-ups: %llu\n", static_cast<unsigned long long>(value)); }
} counted;
inline std::uint64_t& look_ups = counted.value;

}  // namespace fuzz

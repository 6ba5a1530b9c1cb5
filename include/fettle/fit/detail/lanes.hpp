// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <cstdint>
#include <cstring>

namespace fettle::detail {

// Several doubles worked on at once, where the compiler has a type for that; else one. FETTLE_PLAIN_LANES asks for one.
#if defined(__GNUC__) && defined(__AVX__) && !defined(FETTLE_PLAIN_LANES)
using real_lanes = double __attribute__((vector_size(32)));
using unit_lanes = std::uint64_t __attribute__((vector_size(32)));
#elif defined(__GNUC__) && !defined(FETTLE_PLAIN_LANES)
using real_lanes = double __attribute__((vector_size(16)));
using unit_lanes = std::uint64_t __attribute__((vector_size(16)));
#else
using real_lanes = double;
using unit_lanes = std::uint64_t;
#endif
inline constexpr std::size_t lanes = sizeof(real_lanes) / sizeof(double);

[[nodiscard]] inline real_lanes load(const double* from) noexcept {
  real_lanes result;
  std::memcpy(&result, from, sizeof result);
  return result;
}
inline void store(double* to, const real_lanes& value) noexcept {
  std::memcpy(to, &value, sizeof value);
}

}  // namespace fettle::detail

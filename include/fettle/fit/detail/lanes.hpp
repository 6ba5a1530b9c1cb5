// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <cstring>

#include "fettle/fit/detail/bit_cast.hpp"

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

/// All bits of the lanes where a comparison is true.
template <class Mask>
[[nodiscard]] unit_lanes all_of(const Mask& is_true) noexcept {
  if constexpr (sizeof(Mask) == sizeof(unit_lanes))
    return bit_cast<unit_lanes>(is_true);
  else
    return is_true ? ~unit_lanes{} : unit_lanes{};
}
[[nodiscard]] inline bool all_lanes(const unit_lanes& is_true) noexcept {
  for (const std::uint64_t lane : bit_cast<std::array<std::uint64_t, lanes>>(is_true))
    if (lane == 0) return false;
  return true;
}

}  // namespace fettle::detail

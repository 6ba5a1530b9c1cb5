// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cstddef>

#include "fettle/fit/detail/bit_cast.hpp"
#include "fettle/fit/detail/exact_sum.hpp"
#include "fettle/fit/detail/lanes.hpp"

namespace fettle::detail {

/// What one square of a grid sums: w u^a v^b for a, b = 0 .. 2, w y u^a v^b for a, b = 0 .. 1, and w y^2.
using square_sums = std::array<exact_sum, 14>;

/// Adds x as an integer in the unit that is the last place of the anchor: the sum's bits are that integer plus a
/// constant, so adding them is exact.
inline void tally(unit_lanes& sum, const real_lanes& x, double anchor) noexcept {
  sum += bit_cast<unit_lanes>(x + anchor);
}
[[nodiscard]] inline double anchor(double unit) noexcept {
  return 0x1.8p52 * unit;
}

/// Sums of powers, Width x Width from First, as the sum of the products of shares u^a (1-u)^(Width-1-a) and likewise
/// v and b: differences of integers, hence exact.
template <std::size_t Width, std::size_t First>
[[nodiscard]] double in_shares(const square_sums& sums, std::size_t a, std::size_t b) noexcept {
  static constexpr int choose[3][3] = {{1, 0, 0}, {1, 1, 0}, {1, 2, 1}};
  exact_sum result;
  for (std::size_t i = a; i < Width; ++i)
    for (std::size_t j = b; j < Width; ++j) {
      const int times = choose[Width - 1 - a][i - a] * choose[Width - 1 - b][j - b];
      for (int k = 0; k < times; ++k) {
        if ((i + j + a + b) % 2 == 0)
          result.add(sums[First + Width * i + j]);
        else
          result.subtract(sums[First + Width * i + j]);
      }
    }
  return result.value();
}

}  // namespace fettle::detail

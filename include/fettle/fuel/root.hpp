// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <concepts>
#include <limits>
#include <type_traits>

namespace fettle::detail {

/// The N-th root of a positive number by Newton's iteration, usable in constant expressions.
///
/// Errors: NaN for a negative number or NaN; 0 and infinity give themselves.
template <int N, std::floating_point T>
[[nodiscard]] constexpr T root(T x) noexcept {
  if (!(x >= T{0})) return std::numeric_limits<T>::quiet_NaN();
  if (x == T{0} || x > (std::numeric_limits<T>::max)()) return x;
  T y = x > T{1} ? x : T{1};  // from above the root every step goes down, until rounding stops it
  for (;;) {
    T power = 1;
    for (int i = 1; i < N; ++i) power *= y;
    const T next = (static_cast<T>(N - 1) * y + x / power) / static_cast<T>(N);
    if (!(next < y)) return y;
    y = next;
  }
}

/// The square root: the processor's own at run time.
template <std::floating_point T>
[[nodiscard]] constexpr T square_root(T x) noexcept {
  if (std::is_constant_evaluated()) return root<2>(x);
  return std::sqrt(x);
}

}  // namespace fettle::detail

// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <concepts>
#include <limits>
#include <type_traits>

namespace fettle::detail {

/// The natural logarithm of a positive finite number, for constant expressions: halvings, then the series of 2 atanh.
///
/// Source: ln x = 2 atanh((x - 1) / (x + 1)), any handbook of mathematical functions.
template <std::floating_point T>
[[nodiscard]] constexpr T series_log(T x) noexcept {
  constexpr T log_of_2 = static_cast<T>(0.693147180559945309417232L);
  T halvings = 0;
  for (; x > T{4} / T{3}; x /= T{2}) halvings += T{1};
  for (; x < T{2} / T{3}; x *= T{2}) halvings -= T{1};
  const T z = (x - T{1}) / (x + T{1}), square = z * z;  // at most 1/5 in size
  T sum = 0, power = z;
  for (int k = 1; k < 30; k += 2, power *= square) sum += power / static_cast<T>(k);
  return halvings * log_of_2 + T{2} * sum;
}

/// The exponential of a number of everyday size, for constant expressions: halvings, then the series, then squarings.
template <std::floating_point T>
[[nodiscard]] constexpr T series_exp(T x) noexcept {
  int halvings = 0;
  for (; x > T{1} / T{4} || x < T{-1} / T{4}; x /= T{2}) ++halvings;
  T sum = 1;
  for (int k = 16; k > 0; --k) sum = T{1} + x / static_cast<T>(k) * sum;
  for (; halvings > 0; --halvings) sum *= sum;
  return sum;
}

/// A positive number to a power, usable in constant expressions; exponents 0 and 1 cost nothing and lose nothing.
///
/// Errors: NaN for a base that is not above 0.
template <std::floating_point T>
[[nodiscard]] constexpr T power(T base, T exponent) noexcept {
  if (!(base > T{0})) return std::numeric_limits<T>::quiet_NaN();
  if (exponent == T{1}) return base;
  if (exponent == T{0}) return T{1};
  if (std::is_constant_evaluated()) return series_exp(exponent * series_log(base));
  return std::pow(base, exponent);
}

}  // namespace fettle::detail

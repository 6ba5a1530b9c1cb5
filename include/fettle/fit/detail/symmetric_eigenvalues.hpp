// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <utility>
#include <vector>

namespace fettle::detail {

/// A symmetric tridiagonal matrix; entry k of `beside` couples rows k and k + 1.
struct tridiagonal {
  std::vector<double> diagonal, beside;
};

/// Householder's reduction of a symmetric matrix, whose eigenvalues stay.
///
/// Source: G. H. Golub, C. F. Van Loan, "Matrix Computations", 3rd ed., Johns Hopkins, 1996, algorithm 8.3.1.
[[nodiscard]] inline tridiagonal reduced(std::vector<double> a, std::size_t n) {
  tridiagonal result{std::vector<double>(n), std::vector<double>(n, 0.0)};
  std::vector<double> v(n), w(n);
  for (std::size_t k = 0; k < n; ++k) {
    result.diagonal[k] = a[k * n + k];
    double square = 0, below = 0;
    for (std::size_t i = k + 1; i < n; ++i) {
      v[i] = a[k * n + i];
      square += v[i] * v[i];
      if (i > k + 1) below += v[i] * v[i];
    }
    if (k + 1 < n) result.beside[k] = v[k + 1];
    if (below == 0) continue;
    const double length = std::copysign(std::sqrt(square), v[k + 1]);
    result.beside[k] = -length;
    v[k + 1] += length;
    const double half = length * v[k + 1];  // half of v'v
    double along = 0;
    for (std::size_t j = k + 1; j < n; ++j) {
      double sum = 0;
      for (std::size_t i = k + 1; i < n; ++i) sum += a[j * n + i] * v[i];
      w[j] = sum / half;
      along += w[j] * v[j];
    }
    for (std::size_t j = k + 1; j < n; ++j) w[j] -= along / (2 * half) * v[j];
    for (std::size_t j = k + 1; j < n; ++j)
      for (std::size_t i = k + 1; i < n; ++i) a[j * n + i] -= v[j] * w[i] + w[j] * v[i];
  }
  return result;
}

/// One QR step with Wilkinson's shift on rows first .. last, none of which is split from the next.
///
/// Source: Golub and Van Loan as above, algorithm 8.3.2.
inline void turn(tridiagonal& t, std::size_t first, std::size_t last) {
  const double half = (t.diagonal[last - 1] - t.diagonal[last]) / 2, end = t.beside[last - 1];
  double x = t.diagonal[first] - (t.diagonal[last] - end * end / (half + std::copysign(std::hypot(half, end), half)));
  double z = t.beside[first];
  for (std::size_t k = first; k < last; ++k) {
    const double length = std::hypot(x, z), c = length > 0 ? x / length : 1.0, s = length > 0 ? z / length : 0.0;
    if (k > first) t.beside[k - 1] = length;
    const double a = t.diagonal[k], b = t.beside[k], d = t.diagonal[k + 1];
    t.diagonal[k] = c * c * a + 2 * c * s * b + s * s * d;
    t.diagonal[k + 1] = s * s * a - 2 * c * s * b + c * c * d;
    t.beside[k] = c * s * (d - a) + (c * c - s * s) * b;
    if (k + 1 == last) return;
    x = t.beside[k];
    z = s * t.beside[k + 1];
    t.beside[k + 1] *= c;
  }
}

/// Eigenvalues of a symmetric n x n matrix, ascending.
///
/// A general solver computes vectors too and costs every includer a second of compilation.
///
/// Cost: 4/3 n^3 multiply-adds.
[[nodiscard]] inline std::vector<double> symmetric_eigenvalues(std::vector<double> matrix, std::size_t n) {
  tridiagonal t = reduced(std::move(matrix), n);
  constexpr std::size_t most_steps = 60;  // a row; two are usual
  std::size_t last = n == 0 ? 0 : n - 1;
  for (std::size_t step = 0; last > 0 && step < most_steps * n; ++step) {
    const auto split = [&t](std::size_t k) {
      return std::abs(t.beside[k]) <=
             std::numeric_limits<double>::epsilon() * (std::abs(t.diagonal[k]) + std::abs(t.diagonal[k + 1]));
    };
    while (last > 0 && split(last - 1)) --last;
    if (last == 0) break;
    std::size_t first = last - 1;
    while (first > 0 && !split(first - 1)) --first;
    turn(t, first, last);
  }
  std::sort(t.diagonal.begin(), t.diagonal.end());
  return t.diagonal;
}

}  // namespace fettle::detail

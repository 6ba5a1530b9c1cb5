// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>

#include "fettle/fit/detail/lanes.hpp"

namespace fettle::detail {

// Dense blocks, column by column without gaps, both sides multiples of 8. A general library serves matrices of every
// kind and costs an includer seconds of compilation; these few loops run as fast on blocks of this size.
inline constexpr std::size_t block_step = 8;

/// A matrix as it lies in memory: rows x columns.
struct block_view {
  const double* data;
  std::size_t rows, columns;
};

/// c -= a b'.  Shape: c is a.rows x b.rows; a and b have as many columns.
/// Cost: 4 columns by two vectors of sums stay in registers.
inline void subtract_product(double* c, block_view a, block_view b) noexcept {
  constexpr std::size_t height = 2 * lanes, width = 4;
  for (std::size_t j = 0; j < b.rows; j += width)
    for (std::size_t i = 0; i < a.rows; i += height) {
      real_lanes upper[width]{}, lower[width]{};
      for (std::size_t k = 0; k < a.columns; ++k) {
        const real_lanes top = load(a.data + k * a.rows + i), bottom = load(a.data + k * a.rows + i + lanes);
        const double* const factor = b.data + k * b.rows + j;
        for (std::size_t w = 0; w < width; ++w) {
          upper[w] += top * factor[w];
          lower[w] += bottom * factor[w];
        }
      }
      for (std::size_t w = 0; w < width; ++w) {
        double* const column = c + (j + w) * a.rows + i;
        store(column, load(column) - upper[w]);
        store(column + lanes, load(column + lanes) - lower[w]);
      }
    }
}

/// y -= a x, where neighbours of x lie `stride` apart; from row `from` on, a multiple of the step.
inline void subtract_product(double* y, block_view a, const double* x, std::size_t stride, std::size_t from) noexcept {
  for (std::size_t i = from; i < a.rows; i += block_step) {
    real_lanes sum[block_step / lanes]{};
    for (std::size_t k = 0; k < a.columns; ++k)
      for (std::size_t s = 0; s < block_step / lanes; ++s)
        sum[s] += load(a.data + k * a.rows + i + s * lanes) * x[k * stride];
    for (std::size_t s = 0; s < block_step / lanes; ++s) {
      double* const part = y + i + s * lanes;
      store(part, load(part) - sum[s]);
    }
  }
}

/// y -= a'x.
inline void subtract_transposed_product(double* y, block_view a, const double* x) noexcept {
  for (std::size_t k = 0; k < a.columns; ++k) {
    real_lanes sum[2]{};
    for (std::size_t i = 0; i < a.rows; i += 2 * lanes) {
      sum[0] += load(a.data + k * a.rows + i) * load(x + i);
      sum[1] += load(a.data + k * a.rows + i + lanes) * load(x + i + lanes);
    }
    double part[lanes];
    store(part, sum[0] + sum[1]);
    for (const double partial_sum : part) y[k] -= partial_sum;
  }
}

/// Cholesky factor of a square block, over its lower triangle. Returns whether every pivot is positive.
[[nodiscard]] inline bool factor_block(double* block, std::size_t side) noexcept {
  for (std::size_t k = 0; k < side; ++k) {
    double* const column = block + k * side;
    subtract_product(column, {block, side, k}, block + k, side, k / block_step * block_step);
    if (!(column[k] > 0)) return false;
    column[k] = std::sqrt(column[k]);
    for (std::size_t i = k + 1; i < side; ++i) column[i] /= column[k];
  }
  return true;
}

/// x := x l'^-1, l the lower triangle of a square block; x has as many rows and columns.
inline void solve_right(double* x, const double* l, std::size_t side) noexcept {
  for (std::size_t k = 0; k < side; ++k) {
    double* const column = x + k * side;
    subtract_product(column, {x, side, k}, l + k, side, 0);
    for (std::size_t i = 0; i < side; ++i) column[i] /= l[k * side + k];
  }
}

/// x := l^-1 x for one column.
inline void solve_forward(double* x, const double* l, std::size_t side) noexcept {
  for (std::size_t k = 0; k < side; ++k) {
    x[k] /= l[k * side + k];
    for (std::size_t i = k + 1; i < side; ++i) x[i] -= l[k * side + i] * x[k];
  }
}

/// x := l'^-1 x for one column.
inline void solve_backward(double* x, const double* l, std::size_t side) noexcept {
  for (std::size_t k = side; k-- > 0;) {
    for (std::size_t i = k + 1; i < side; ++i) x[k] -= l[k * side + i] * x[i];
    x[k] /= l[k * side + k];
  }
}

/// The transpose of a block.
inline void transpose(double* to, block_view from) noexcept {
  for (std::size_t k = 0; k < from.columns; ++k)
    for (std::size_t i = 0; i < from.rows; ++i) to[i * from.columns + k] = from.data[k * from.rows + i];
}

}  // namespace fettle::detail

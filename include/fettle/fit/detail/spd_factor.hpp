// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "fettle/fit/detail/blocks.hpp"

namespace fettle::detail {

/// Cholesky factor of a symmetric positive definite matrix, and the entries of its inverse that statistics need.
///
/// Stored in square blocks, each row of blocks from the first that is not empty to the diagonal, so that one code does
/// banded matrices (grids), arrows (a few numbers that meet every cell, ordered last) and full ones, at the speed of
/// dense products. The inverse is computed inside the same envelope, last column first: A. M. Erisman, W. F. Tinney,
/// "On computing certain elements of the inverse of a sparse matrix", Commun. ACM 18 (1975) 177-179,
/// doi:10.1145/360680.360704.
///
/// Cost: n b^2 multiply-adds to factor and 2 n b^2 for the inverse, b the mean number of entries left of the diagonal.
class spd_factor {
 public:
  /// Makes room for a matrix.
  ///
  /// @param first  per row, the first column that is not zero.
  void lay_out(const std::vector<std::uint32_t>& first) {
    size_ = first.size();
    double mean = 0;
    for (std::size_t i = 0; i < size_; ++i) mean += static_cast<double>(i + 1 - first[i]);
    mean /= static_cast<double>((std::max<std::size_t>)(size_, 1));
    side_ = std::clamp<std::size_t>(static_cast<std::size_t>(mean / 32) * block_step, block_step, 40);
    const std::size_t blocks = (size_ + side_ - 1) / side_;
    start_.assign(blocks, 0);
    offset_.assign(blocks + 1, 0);
    for (std::size_t i = 0; i < blocks; ++i) {
      std::size_t from = i * side_;
      for (std::size_t k = i * side_; k < (std::min)((i + 1) * side_, size_); ++k)
        from = (std::min<std::size_t>)(from, first[k]);
      start_[i] = from / side_;
      offset_[i + 1] = offset_[i] + (i - start_[i] + 1) * side_ * side_;
    }
    value_.resize(offset_.back());
    clear();
  }

  /// Where an entry is kept; row >= column, within the layout.
  [[nodiscard]] std::size_t slot(std::size_t row, std::size_t column) const noexcept {
    const std::size_t i = row / side_;
    return offset_[i] + (column - start_[i] * side_) * side_ + (row - i * side_);
  }

  void clear() {
    std::fill(value_.begin(), value_.end(), 0.0);
    for (std::size_t k = size_; k < start_.size() * side_; ++k) value_[slot(k, k)] = 1;  // padding
  }
  void add(std::size_t slot, double value) noexcept { value_[slot] += value; }

  /// Factors what was added since `clear`.
  void factor() {
    inverse_ready_ = false;
    smallest_pivot_ = 1;
    std::vector<double> before(side_);
    for (std::size_t i = 0; i < start_.size(); ++i) {
      for (std::size_t j = start_[i]; j < i; ++j) {
        const std::size_t from = (std::max)(start_[i], start_[j]);
        if (from < j) subtract_product(at(value_, i, j), run(i, from, j), run(j, from, j));
        solve_right(at(value_, i, j), at(value_, j, j), side_);
      }
      double* const pivot = at(value_, i, i);
      for (std::size_t k = 0; k < side_; ++k) before[k] = pivot[k * (side_ + 1)];
      if (start_[i] < i) subtract_product(pivot, run(i, start_[i], i), run(i, start_[i], i));
      const bool positive = factor_block(pivot, side_);
      for (std::size_t k = 0; positive && k < side_; ++k)
        smallest_pivot_ = (std::min)(smallest_pivot_, pivot[k * (side_ + 1)] * pivot[k * (side_ + 1)] / before[k]);
      if (!positive || !(smallest_pivot_ > 0)) {
        smallest_pivot_ = 0;
        return;
      }
    }
  }

  /// Smallest pivot over its diagonal entry: 1 - R^2 of a cell explained by those before it; 0 when singular.
  [[nodiscard]] double smallest_pivot() const noexcept { return smallest_pivot_; }

  /// Solves for one right side, in its place.
  void solve(std::span<double> right) const {
    std::vector<double> x(side_ * start_.size(), 0.0);
    std::copy(right.begin(), right.end(), x.begin());
    for (std::size_t i = 0; i < start_.size(); ++i) {
      double* const part = x.data() + i * side_;
      if (start_[i] < i) subtract_product(part, run(i, start_[i], i), x.data() + start_[i] * side_, 1, 0);
      solve_forward(part, at(value_, i, i), side_);
    }
    for (std::size_t i = start_.size(); i-- > 0;) {
      double* const part = x.data() + i * side_;
      solve_backward(part, at(value_, i, i), side_);
      if (start_[i] < i) subtract_transposed_product(x.data() + start_[i] * side_, run(i, start_[i], i), part);
    }
    std::copy_n(x.begin(), right.size(), right.begin());
  }

  [[nodiscard]] double log_determinant() const {
    double sum = 0;
    for (std::size_t k = 0; k < size_; ++k) sum += std::log(value_[slot(k, k)]);
    return 2 * sum;
  }

  /// Entries of the inverse, kept like those of the matrix.
  [[nodiscard]] const std::vector<double>& inverse() {
    if (!inverse_ready_) invert();
    inverse_ready_ = true;
    return inverse_;
  }

 private:
  [[nodiscard]] double* at(std::vector<double>& values, std::size_t i, std::size_t j) const noexcept {
    return values.data() + offset_[i] + (j - start_[i]) * side_ * side_;
  }
  [[nodiscard]] const double* at(const std::vector<double>& values, std::size_t i, std::size_t j) const noexcept {
    return values.data() + offset_[i] + (j - start_[i]) * side_ * side_;
  }
  /// Blocks from .. to - 1 of row i, side by side.
  [[nodiscard]] block_view run(std::size_t i, std::size_t from, std::size_t to) const noexcept {
    return {at(value_, i, from), side_, (to - from) * side_};
  }

  void invert() {
    inverse_.resize(value_.size());
    std::vector<double> root(side_ * side_);  // transposed inverse of the pivot's factor
    std::vector<std::size_t> below;           // rows of blocks that reach column j
    for (std::size_t j = start_.size(); j-- > 0;) {
      below.clear();
      for (std::size_t i = j + 1; i < start_.size(); ++i)
        if (start_[i] <= j) below.push_back(i);
      std::fill(root.begin(), root.end(), 0.0);
      for (std::size_t k = 0; k < side_; ++k) root[k * (side_ + 1)] = 1;
      solve_right(root.data(), at(value_, j, j), side_);
      double* const pivot = at(inverse_, j, j);
      std::fill_n(pivot, side_ * side_, 0.0);
      subtract_product(pivot, square(root), square(root));
      for (std::size_t k = 0; k < side_ * side_; ++k) pivot[k] = -pivot[k];
      if (!below.empty()) invert_below(j, below, square(root));
    }
  }

  [[nodiscard]] block_view square(const std::vector<double>& block) const noexcept {
    return {block.data(), side_, side_};
  }

  // Column j of the inverse below its pivot, and what that adds to the pivot.
  void invert_below(std::size_t j, const std::vector<std::size_t>& below, block_view root) {
    const std::size_t rows = below.size() * side_;
    std::vector<double> step(rows * side_, 0.0), known(rows * rows), share(rows * side_, 0.0), turned(rows * side_);
    for (std::size_t a = 0; a < below.size(); ++a) {
      const double* const block = at(value_, below[a], j);
      for (std::size_t k = 0; k < side_; ++k)
        for (std::size_t i = 0; i < side_; ++i) turned[k * rows + a * side_ + i] = -block[k * side_ + i];
      for (std::size_t b = 0; b <= a; ++b) put_both(known, rows, {a, b}, at(inverse_, below[a], below[b]));
    }
    subtract_product(step.data(), {turned.data(), rows, side_}, root);  // factor below the pivot times its inverse
    transpose(turned.data(), {step.data(), rows, side_});
    subtract_product(share.data(), {known.data(), rows, rows}, {turned.data(), side_, rows});
    for (std::size_t a = 0; a < below.size(); ++a) {
      double* const block = at(inverse_, below[a], j);
      for (std::size_t k = 0; k < side_; ++k)
        std::copy_n(share.data() + k * rows + a * side_, side_, block + k * side_);
    }
    transpose(step.data(), {share.data(), rows, side_});
    subtract_product(at(inverse_, j, j), {turned.data(), side_, rows}, {step.data(), side_, rows});
  }

  struct position {
    std::size_t row, column;
  };
  // A block of the symmetric matrix `known`, and its mirror image; of a block on the diagonal, the lower triangle.
  void put_both(std::vector<double>& known, std::size_t rows, position p, const double* block) const noexcept {
    for (std::size_t k = 0; k < side_; ++k)
      for (std::size_t i = p.row == p.column ? k : 0; i < side_; ++i) {
        const std::size_t r = p.row * side_ + i, c = p.column * side_ + k;
        known[c * rows + r] = known[r * rows + c] = block[k * side_ + i];
      }
  }

  std::size_t size_ = 0, side_ = block_step;
  std::vector<std::size_t> start_, offset_;  // per row of blocks: its first block, and where that is kept
  std::vector<double> value_, inverse_;
  double smallest_pivot_ = 0;
  bool inverse_ready_ = false;
};

}  // namespace fettle::detail

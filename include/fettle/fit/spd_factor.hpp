// SPDX-License-Identifier: MIT
#pragma once

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <vector>

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
  using matrix = Eigen::MatrixXd;
  using block = Eigen::Map<matrix>;
  using const_block = Eigen::Map<const matrix>;

 public:
  /// Makes room for a matrix.
  ///
  /// @param first  per row, the first column that is not zero.
  void lay_out(const std::vector<std::uint32_t>& first) {
    size_ = first.size();
    double mean = 0;
    for (std::size_t i = 0; i < size_; ++i) mean += static_cast<double>(i + 1 - first[i]);
    mean /= static_cast<double>((std::max<std::size_t>)(size_, 1));
    side_ = std::clamp<std::size_t>(static_cast<std::size_t>(mean / 32) * 8, 8, 40);
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
    for (std::size_t i = 0; i < start_.size(); ++i) {
      for (std::size_t j = start_[i]; j < i; ++j) {
        auto target = at(value_, i, j);
        const std::size_t from = (std::max)(start_[i], start_[j]);
        if (from < j) target.noalias() -= run(i, from, j) * run(j, from, j).transpose();
        const_at(value_, j, j).transpose().triangularView<Eigen::Upper>().solveInPlace<Eigen::OnTheRight>(target);
      }
      auto pivot = at(value_, i, i);
      const Eigen::VectorXd before = pivot.diagonal();
      if (start_[i] < i) pivot.noalias() -= run(i, start_[i], i) * run(i, start_[i], i).transpose();
      const Eigen::LLT<Eigen::Ref<matrix>> factored(pivot);
      const double smallest = (pivot.diagonal().array().square() / before.array()).minCoeff();
      if (factored.info() != Eigen::Success || !(smallest > 0)) {
        smallest_pivot_ = 0;
        return;
      }
      smallest_pivot_ = (std::min)(smallest_pivot_, smallest);
    }
  }

  /// Smallest pivot over its diagonal entry: 1 - R^2 of a cell explained by those before it; 0 when singular.
  [[nodiscard]] double smallest_pivot() const noexcept { return smallest_pivot_; }

  [[nodiscard]] Eigen::VectorXd solve(const Eigen::VectorXd& right) const {
    const auto side = static_cast<Eigen::Index>(side_);
    Eigen::VectorXd x = Eigen::VectorXd::Zero(side * static_cast<Eigen::Index>(start_.size()));
    x.head(right.size()) = right;
    const auto part = [&](std::size_t i, std::size_t blocks) {
      return x.segment(static_cast<Eigen::Index>(i) * side, static_cast<Eigen::Index>(blocks) * side);
    };
    for (std::size_t i = 0; i < start_.size(); ++i) {
      if (start_[i] < i) part(i, 1).noalias() -= run(i, start_[i], i) * part(start_[i], i - start_[i]);
      const_at(value_, i, i).triangularView<Eigen::Lower>().solveInPlace(part(i, 1));
    }
    for (std::size_t i = start_.size(); i-- > 0;) {
      const_at(value_, i, i).transpose().triangularView<Eigen::Upper>().solveInPlace(part(i, 1));
      if (start_[i] < i) part(start_[i], i - start_[i]).noalias() -= run(i, start_[i], i).transpose() * part(i, 1);
    }
    return x.head(right.size());
  }

  [[nodiscard]] double log_determinant() const {
    double sum = 0;
    for (std::size_t i = 0; i < start_.size(); ++i) sum += const_at(value_, i, i).diagonal().array().log().sum();
    return 2 * sum;
  }

  /// Entries of the inverse, kept like those of the matrix.
  [[nodiscard]] const std::vector<double>& inverse() {
    if (!inverse_ready_) invert();
    inverse_ready_ = true;
    return inverse_;
  }

 private:
  [[nodiscard]] block at(std::vector<double>& values, std::size_t i, std::size_t j) const noexcept {
    const auto side = static_cast<Eigen::Index>(side_);
    return {values.data() + offset_[i] + (j - start_[i]) * side_ * side_, side, side};
  }
  [[nodiscard]] const_block const_at(const std::vector<double>& values, std::size_t i, std::size_t j) const noexcept {
    const auto side = static_cast<Eigen::Index>(side_);
    return {values.data() + offset_[i] + (j - start_[i]) * side_ * side_, side, side};
  }
  /// Blocks from .. to - 1 of row i, side by side.
  [[nodiscard]] const_block run(std::size_t i, std::size_t from, std::size_t to) const noexcept {
    return {value_.data() + offset_[i] + (from - start_[i]) * side_ * side_, static_cast<Eigen::Index>(side_),
            static_cast<Eigen::Index>((to - from) * side_)};
  }

  void invert() {
    const auto side = static_cast<Eigen::Index>(side_);
    inverse_.resize(value_.size());
    std::vector<std::size_t> below;  // rows of blocks that reach column j
    matrix step, known, share;
    for (std::size_t j = start_.size(); j-- > 0;) {
      below.clear();
      for (std::size_t i = j + 1; i < start_.size(); ++i)
        if (start_[i] <= j) below.push_back(i);
      const auto rows = static_cast<Eigen::Index>(below.size()) * side;
      const matrix root = const_at(value_, j, j).triangularView<Eigen::Lower>().solve(matrix::Identity(side, side));
      auto pivot = at(inverse_, j, j);
      pivot.noalias() = root.transpose() * root;
      if (rows == 0) continue;
      step.resize(rows, side);
      known.resize(rows, rows);
      for (std::size_t a = 0; a < below.size(); ++a) {
        const auto row = static_cast<Eigen::Index>(a) * side;
        step.middleRows(row, side) = const_at(value_, below[a], j);
        for (std::size_t b = 0; b <= a; ++b)
          known.block(row, static_cast<Eigen::Index>(b) * side, side, side) = const_at(inverse_, below[a], below[b]);
      }
      step = (step * root).eval();
      share.setZero(rows, side);
      share.noalias() += known.selfadjointView<Eigen::Lower>() * step;
      pivot.noalias() += step.transpose() * share;
      for (std::size_t a = 0; a < below.size(); ++a)
        at(inverse_, below[a], j) = -share.middleRows(static_cast<Eigen::Index>(a) * side, side);
    }
  }

  std::size_t size_ = 0, side_ = 8;
  std::vector<std::size_t> start_, offset_;  // per row of blocks: its first block, and where that is kept
  std::vector<double> value_, inverse_;
  double smallest_pivot_ = 0;
  bool inverse_ready_ = false;
};

}  // namespace fettle::detail

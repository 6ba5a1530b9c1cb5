// SPDX-License-Identifier: MIT
#pragma once

#include <Eigen/Cholesky>
#include <Eigen/Sparse>
#include <algorithm>
#include <cmath>
#include <cstddef>
#include <vector>

namespace fettle::detail {

/// Cholesky factor of a symmetric positive definite matrix, and the entries of its inverse that statistics need.
///
/// A grid's matrix is sparse and stays so; one filled by long rows is faster dense. The pattern is analysed once, so a
/// matrix of the same pattern (another strength) is cheaper to factor the second time.
class spd_factor {
  using sparse = Eigen::SparseMatrix<double>;

 public:
  /// Factors the matrix given by its lower triangle; `smallest_pivot` tells how nearly singular it is.
  void compute(const sparse& lower) {
    const double n = static_cast<double>(lower.rows());
    dense_ = static_cast<double>(lower.nonZeros()) > 0.15 * n * n;
    inverse_ready_ = false;
    if (dense_) {
      full_ = Eigen::MatrixXd(lower);
      llt_.compute(full_);
      smallest_pivot_ = llt_.info() == Eigen::Success
                            ? (llt_.matrixLLT().diagonal().array().square() / full_.diagonal().array()).minCoeff()
                            : 0.0;
    } else {
      if (!analysed_) ldlt_.analyzePattern(lower);
      analysed_ = true;
      ldlt_.factorize(lower);
      const Eigen::VectorXd diagonal = ldlt_.permutationP() * Eigen::VectorXd(lower.diagonal());
      smallest_pivot_ = ldlt_.info() == Eigen::Success ? (ldlt_.vectorD().array() / diagonal.array()).minCoeff() : 0.0;
    }
    if (!(smallest_pivot_ >= 0)) smallest_pivot_ = 0;  // NaN: a zero on the diagonal
  }

  /// Smallest pivot over its diagonal entry: 1 - R^2 of the cell best explained by the others; 0 when singular.
  [[nodiscard]] double smallest_pivot() const noexcept { return smallest_pivot_; }

  [[nodiscard]] Eigen::VectorXd solve(const Eigen::VectorXd& right) const {
    if (dense_) return llt_.solve(right);
    return ldlt_.solve(right);
  }

  [[nodiscard]] Eigen::MatrixXd solve_all(const Eigen::MatrixXd& right) const {
    if (dense_) return llt_.solve(right);
    return ldlt_.solve(right);
  }

  [[nodiscard]] double log_determinant() const {
    if (dense_) return 2 * llt_.matrixLLT().diagonal().array().log().sum();
    return ldlt_.vectorD().array().log().sum();
  }

  /// Diagonal of the inverse.
  [[nodiscard]] Eigen::VectorXd inverse_diagonal() {
    prepare_inverse();
    if (dense_) return full_inverse_.diagonal();
    Eigen::VectorXd permuted(inverse_.cols());
    for (Eigen::Index j = 0; j < inverse_.cols(); ++j) permuted[j] = pivot_inverse_[static_cast<std::size_t>(j)];
    return ldlt_.permutationPinv() * permuted;
  }

  /// Trace of inverse * S for a symmetric S given by its lower triangle, whose pattern lies within the factored one.
  [[nodiscard]] double inverse_trace(const sparse& lower) {
    prepare_inverse();
    double sum = 0;
    for (Eigen::Index j = 0; j < lower.outerSize(); ++j)
      for (sparse::InnerIterator it(lower, j); it; ++it)
        sum += (it.row() == it.col() ? 1 : 2) * it.value() * inverse_entry(it.row(), it.col());
    return sum;
  }

 private:
  [[nodiscard]] double inverse_entry(Eigen::Index row, Eigen::Index column) const {
    if (dense_) return full_inverse_(row, column);
    const auto& permutation = ldlt_.permutationP().indices();
    Eigen::Index i = permutation[row], j = permutation[column];
    if (i < j) std::swap(i, j);
    if (i == j) return pivot_inverse_[static_cast<std::size_t>(j)];
    const int* begin = inverse_.innerIndexPtr() + inverse_.outerIndexPtr()[j];
    const int* end = inverse_.innerIndexPtr() + inverse_.outerIndexPtr()[j + 1];
    const int* found = std::lower_bound(begin, end, static_cast<int>(i));
    return inverse_.valuePtr()[found - inverse_.innerIndexPtr()];
  }

  void prepare_inverse() {
    if (inverse_ready_) return;
    inverse_ready_ = true;
    if (dense_)
      full_inverse_ = llt_.solve(Eigen::MatrixXd::Identity(full_.rows(), full_.cols()));
    else
      select_inverse();
  }

  // Entries of the inverse on the pattern of the factor, last column first.
  // Source: K. Takahashi, J. Fagan, M.-S. Chen, "Formation of a sparse bus impedance matrix and its application to
  //         short circuit study", 8th PICA Conf. (1973) 63-69 (recursion as usually quoted).
  void select_inverse() {
    const sparse& factor = ldlt_.matrixL().nestedExpression();
    inverse_ = factor;
    const Eigen::Index n = factor.cols();
    pivot_inverse_.assign(static_cast<std::size_t>(n), 0.0);
    std::vector<double> column(static_cast<std::size_t>(n), 0.0);
    std::vector<Eigen::Index> slot(static_cast<std::size_t>(n), -1);
    const int* start = factor.outerIndexPtr();
    const int* row = factor.innerIndexPtr();
    const double* l = factor.valuePtr();
    double* z = inverse_.valuePtr();
    for (Eigen::Index j = n - 1; j >= 0; --j) {
      const int begin = start[j], end = start[j + 1];
      for (int p = begin; p < end; ++p) {
        slot[static_cast<std::size_t>(row[p])] = p;
        column[static_cast<std::size_t>(p - begin)] = 0;
      }
      for (int p = begin; p < end; ++p) {
        const auto k = static_cast<std::size_t>(row[p]);
        double own = pivot_inverse_[k] * l[p];
        for (int q = start[k]; q < start[k + 1]; ++q) {
          const Eigen::Index at = slot[static_cast<std::size_t>(row[q])];
          if (at < 0) continue;
          column[static_cast<std::size_t>(at - begin)] -= z[q] * l[p];
          own += z[q] * l[at];
        }
        column[static_cast<std::size_t>(p - begin)] -= own;
      }
      double pivot = 1 / ldlt_.vectorD()[j];
      for (int p = begin; p < end; ++p) {
        z[p] = column[static_cast<std::size_t>(p - begin)];
        pivot -= l[p] * z[p];
        slot[static_cast<std::size_t>(row[p])] = -1;
      }
      pivot_inverse_[static_cast<std::size_t>(j)] = pivot;
    }
  }

  bool dense_ = false, analysed_ = false, inverse_ready_ = false;
  double smallest_pivot_ = 0;
  Eigen::MatrixXd full_, full_inverse_;
  Eigen::LLT<Eigen::MatrixXd> llt_;
  Eigen::SimplicialLDLT<sparse> ldlt_;
  sparse inverse_;
  std::vector<double> pivot_inverse_;
};

}  // namespace fettle::detail

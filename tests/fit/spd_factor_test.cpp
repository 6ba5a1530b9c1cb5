// SPDX-License-Identifier: MIT
#include "fettle/fit/detail/spd_factor.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <Eigen/Cholesky>
#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <random>
#include <vector>

namespace spd_factor_test {

using fettle::detail::spd_factor;

/// Where the rows of a matrix begin: a band, then a few rows that are full (an arrow).
std::vector<std::uint32_t> envelope_of(std::size_t size, std::size_t band, std::size_t full) {
  std::vector<std::uint32_t> first(size);
  for (std::size_t i = 0; i < size; ++i)
    first[i] = static_cast<std::uint32_t>(i + full >= size || i < band ? 0 : i - band);
  return first;
}

/// A positive definite matrix inside an envelope: random entries and a diagonal that outweighs them.
Eigen::MatrixXd matrix_in(const std::vector<std::uint32_t>& first, std::uint64_t seed) {
  std::mt19937_64 random(seed);
  std::uniform_real_distribution<double> draw(-1, 1);
  const auto n = static_cast<Eigen::Index>(first.size());
  Eigen::MatrixXd result = Eigen::MatrixXd::Zero(n, n);
  for (Eigen::Index i = 0; i < n; ++i)
    for (Eigen::Index j = first[static_cast<std::size_t>(i)]; j < i; ++j) result(i, j) = result(j, i) = draw(random);
  for (Eigen::Index i = 0; i < n; ++i) result(i, i) = 0.1 + result.row(i).cwiseAbs().sum();
  return result;
}

spd_factor factored(const Eigen::MatrixXd& matrix, const std::vector<std::uint32_t>& first) {
  spd_factor factor;
  factor.lay_out(first);
  for (std::size_t i = 0; i < first.size(); ++i)
    for (std::size_t j = first[i]; j <= i; ++j)
      factor.add(factor.slot(i, j), matrix(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(j)));
  factor.factor();
  return factor;
}

// Reference library: Eigen's dense Cholesky factor and inverse. The matrices are diagonally dominant, condition below
// 1e4, so 1e-11 relative is some hundred roundings.
RC_GTEST_PROP(SpdFactor, SolvesInvertsAndMeasuresAsEigenDoesWhateverTheEnvelope, ()) {
  const auto size = *rc::gen::inRange<std::size_t>(1, 130);
  const auto band = *rc::gen::inRange<std::size_t>(0, 80), full = *rc::gen::inRange<std::size_t>(0, 4);
  const auto first = envelope_of(size, band, full);
  const Eigen::MatrixXd matrix = matrix_in(first, *rc::gen::arbitrary<std::uint64_t>());
  spd_factor factor = factored(matrix, first);
  const Eigen::LLT<Eigen::MatrixXd> reference(matrix);

  const Eigen::VectorXd right = Eigen::VectorXd::LinSpaced(static_cast<Eigen::Index>(size), -1, 2);
  const Eigen::VectorXd expected = reference.solve(right);
  std::vector<double> solution(right.begin(), right.end());
  factor.solve(solution);
  for (std::size_t k = 0; k < size; ++k)
    RC_ASSERT(std::abs(solution[k] - expected[static_cast<Eigen::Index>(k)]) <
              1e-11 * (1 + expected.cwiseAbs().maxCoeff()));

  const Eigen::MatrixXd lower = reference.matrixL();
  const double log_determinant = 2 * lower.diagonal().array().log().sum();
  RC_ASSERT(std::abs(factor.log_determinant() - log_determinant) < 1e-11 * (1 + std::abs(log_determinant)));
  const double smallest = (lower.diagonal().array().square() / matrix.diagonal().array()).minCoeff();
  RC_ASSERT(std::abs(factor.smallest_pivot() - smallest) < 1e-11);

  const Eigen::MatrixXd inverse = matrix.inverse();
  for (std::size_t i = 0; i < size; ++i)
    for (std::size_t j = first[i]; j <= i; ++j)
      RC_ASSERT(std::abs(factor.inverse()[factor.slot(i, j)] -
                         inverse(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(j))) <
                1e-11 * inverse.cwiseAbs().maxCoeff());
}

TEST(SpdFactor, SaysThatASingularMatrixHasNoPivot) {
  const auto first = envelope_of(20, 3, 0);
  Eigen::MatrixXd matrix = matrix_in(first, 5);
  matrix.row(12).setZero();
  matrix.col(12).setZero();
  EXPECT_EQ(factored(matrix, first).smallest_pivot(), 0.0);
  matrix(12, 12) = -1;
  EXPECT_EQ(factored(matrix, first).smallest_pivot(), 0.0);
  matrix(12, 12) = std::nan("");
  EXPECT_EQ(factored(matrix, first).smallest_pivot(), 0.0);
}

TEST(SpdFactor, IsReadyForAnotherMatrixOfTheSameLayout) {
  const auto first = envelope_of(30, 4, 2);
  spd_factor factor = factored(matrix_in(first, 1), first);
  const double before = factor.inverse()[factor.slot(3, 3)];
  factor.clear();
  for (std::size_t k = 0; k < first.size(); ++k) factor.add(factor.slot(k, k), 4.0);
  factor.factor();
  EXPECT_NE(before, 0.25);
  EXPECT_DOUBLE_EQ(factor.inverse()[factor.slot(3, 3)], 0.25);
  EXPECT_DOUBLE_EQ(factor.smallest_pivot(), 1.0);
}

}  // namespace spd_factor_test

// SPDX-License-Identifier: MIT
#include "fettle/fit/detail/symmetric_eigenvalues.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <Eigen/Eigenvalues>
#include <cmath>
#include <cstddef>
#include <numbers>
#include <vector>

namespace symmetric_eigenvalues_test {

std::vector<double> eigenvalues_of(const Eigen::MatrixXd& m) {
  return fettle::detail::symmetric_eigenvalues({m.data(), m.data() + m.size()}, static_cast<std::size_t>(m.rows()));
}

// Published: the eigenvalues of the second-difference matrix (2 on the diagonal, -1 beside it) are
// 2 - 2 cos(k pi / (n + 1)), a textbook result.
TEST(SymmetricEigenvalues, AreThoseOfTheSecondDifferenceMatrix) {
  const Eigen::Index n = 30;
  Eigen::MatrixXd m = 2 * Eigen::MatrixXd::Identity(n, n);
  for (Eigen::Index k = 0; k + 1 < n; ++k) m(k, k + 1) = m(k + 1, k) = -1;
  const auto eigenvalues = eigenvalues_of(m);
  for (std::size_t k = 0; k < eigenvalues.size(); ++k)
    EXPECT_NEAR(eigenvalues[k], 2 - 2 * std::cos(static_cast<double>(k + 1) * std::numbers::pi / (n + 1)), 1e-14);
}

TEST(SymmetricEigenvalues, OfSmallAndSplitMatricesAreExact) {
  EXPECT_TRUE(eigenvalues_of(Eigen::MatrixXd(0, 0)).empty());
  EXPECT_EQ(eigenvalues_of(Eigen::MatrixXd::Constant(1, 1, -3)), std::vector<double>{-3});
  EXPECT_EQ(eigenvalues_of(Eigen::Vector3d(3, 1, 2).asDiagonal()), (std::vector<double>{1, 2, 3}));
  EXPECT_EQ(eigenvalues_of(Eigen::MatrixXd::Zero(4, 4)), std::vector<double>(4, 0.0));
}

// Golub and Van Loan, section 5.1.3: a reflection whose sign makes it subtract nearly equal numbers loses half of the digits.
// Sum, product and sum of products of pairs are the coefficients of the characteristic polynomial, worked out by hand. An
// eigenvalue is within 3e-15, some rounding units of the largest; the sums multiply that by 3 and by 16 at most.
TEST(SymmetricEigenvalues, KeepTheirDigitsWhereARowIsNearlyReducedAlready) {
  constexpr double within = 3e-15;
  for (const double beside : {-1.0, 1.0}) {
    Eigen::Matrix3d m = Eigen::Vector3d(2, 1, 5).asDiagonal();
    m(0, 1) = m(1, 0) = beside;
    m(0, 2) = m(2, 0) = 1e-6;
    const auto value = eigenvalues_of(m);
    EXPECT_NEAR(value[0] + value[1] + value[2], 8, 3 * within);
    EXPECT_NEAR(value[0] * value[1] * value[2], 5 - 1e-12, 16 * within);
    EXPECT_NEAR(value[0] * value[1] + value[0] * value[2] + value[1] * value[2], 16 - 1e-12, 16 * within);
  }
}

// Reference library: Eigen's SelfAdjointEigenSolver; 1e-13 of the largest is some hundred roundings.
RC_GTEST_PROP(SymmetricEigenvalues, AreThoseThatEigenGives, ()) {
  const auto n = *rc::gen::inRange<Eigen::Index>(1, 25);
  const auto values = *rc::gen::container<std::vector<int>>(static_cast<std::size_t>(n * n), rc::gen::inRange(-9, 10));
  Eigen::MatrixXd m(n, n);
  for (Eigen::Index k = 0; k < n * n; ++k) m.data()[k] = values[static_cast<std::size_t>(k)];
  m = (m + m.transpose()).eval();
  const Eigen::VectorXd expected = Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd>(m).eigenvalues();
  const auto eigenvalues = eigenvalues_of(m);
  for (Eigen::Index k = 0; k < n; ++k)
    RC_ASSERT(std::abs(eigenvalues[static_cast<std::size_t>(k)] - expected[k]) <
              1e-13 * (1 + expected.cwiseAbs().maxCoeff()));
}

}  // namespace symmetric_eigenvalues_test

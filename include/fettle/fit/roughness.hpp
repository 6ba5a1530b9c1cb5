// SPDX-License-Identifier: MIT
#pragma once

#include <Eigen/Dense>
#include <cstddef>

#include "fettle/map/dynamic_table.hpp"

namespace fettle {

/// How rough a row of node values is: the quadratic form z'Kz, zero for what smoothing leaves alone.
///
/// Shape: `matrix` is n x n, symmetric, positive semi-definite; `free` is the dimension of its null space.
struct roughness {
  Eigen::MatrixXd matrix;
  std::size_t free = 0;
};

/// Sum of squared d-th differences of neighbouring values, whatever their spacing.
///
/// Source: P. H. C. Eilers, "A perfect smoother", Anal. Chem. 75 (2003) 3631-3636, doi:10.1021/ac034173t.
[[nodiscard]] inline roughness difference_roughness(std::size_t count, std::size_t order) {
  const auto n = static_cast<Eigen::Index>(count);
  Eigen::MatrixXd differences = Eigen::MatrixXd::Identity(n, n);
  for (std::size_t d = 0; d < order && differences.rows() > 0; ++d) {
    const Eigen::Index rows = differences.rows() - 1;
    differences = (differences.bottomRows(rows) - differences.topRows(rows)).eval();
  }
  return {differences.transpose() * differences, order < count ? order : count};
}

/// Second derivative estimates at the inner breakpoints: twice the second divided difference.
///
/// Shape: (n-2) x n; no rows for an axis of two breakpoints.
[[nodiscard]] inline Eigen::MatrixXd second_divided_differences(const dynamic_axis<double>& axis) {
  const auto& x = axis.points();
  const auto n = static_cast<Eigen::Index>(x.size());
  Eigen::MatrixXd result = Eigen::MatrixXd::Zero(n - 2, n);
  for (Eigen::Index i = 0; i + 2 < n; ++i) {
    const auto k = static_cast<std::size_t>(i);
    const double left = x[k + 1] - x[k], right = x[k + 2] - x[k + 1];
    result(i, i) = 2 / (left * (left + right));
    result(i, i + 1) = -2 / (left * right);
    result(i, i + 2) = 2 / (right * (left + right));
  }
  return result;
}

/// Integral of the squared second derivative over the axis scaled to 0..1, by second divided differences.
///
/// One strength therefore means the same on any axis, in any unit, however its breakpoints are spaced. Straight lines
/// cost nothing.
[[nodiscard]] inline roughness curvature_roughness(const dynamic_axis<double>& axis) {
  const auto& x = axis.points();
  const Eigen::MatrixXd second = second_divided_differences(axis);
  Eigen::VectorXd width(second.rows());
  for (Eigen::Index i = 0; i < width.size(); ++i) {
    const auto k = static_cast<std::size_t>(i);
    width[i] = (x[k + 2] - x[k]) / 2;
  }
  const double span = x.back() - x.front();
  return {span * span * span * (second.transpose() * width.asDiagonal() * second), 2};
}

/// Integral of the squared second derivative of the natural cubic spline through the node values, in the axis's unit.
///
/// Source: C. H. Reinsch, "Smoothing by spline functions", Numer. Math. 10 (1967) 177-183, doi:10.1007/BF02162161:
///         K = Q R^-1 Q'.
[[nodiscard]] inline roughness spline_roughness(const dynamic_axis<double>& axis) {
  const auto& x = axis.points();
  const Eigen::MatrixXd second = second_divided_differences(axis);
  const Eigen::Index inner = second.rows();
  Eigen::MatrixXd gram = Eigen::MatrixXd::Zero(inner, inner);  // R: inner products of the hat functions
  Eigen::MatrixXd scaled = second;                             // Q': divided differences before the division
  for (Eigen::Index i = 0; i < inner; ++i) {
    const auto k = static_cast<std::size_t>(i);
    gram(i, i) = (x[k + 2] - x[k]) / 3;
    if (i + 1 < inner) gram(i, i + 1) = gram(i + 1, i) = (x[k + 2] - x[k + 1]) / 6;
    scaled.row(i) *= (x[k + 2] - x[k]) / 2;
  }
  if (inner == 0) return {Eigen::MatrixXd::Zero(2, 2), 2};
  return {scaled.transpose() * gram.llt().solve(scaled), 2};
}

}  // namespace fettle

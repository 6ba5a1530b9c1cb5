// SPDX-License-Identifier: MIT
#pragma once

#include <Eigen/Core>
#include <cmath>
#include <cstddef>
#include <utility>
#include <vector>

#include "fettle/fit/detail/banded_rows.hpp"
#include "fettle/fit/detail/tridiagonal.hpp"
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
  if (order >= count) return {Eigen::MatrixXd::Zero(n, n), count};
  std::vector<double> stencil{1.0};  // of one difference: binomial coefficients with alternating signs
  for (std::size_t d = 0; d < order; ++d) {
    stencil.insert(stencil.begin(), 0.0);
    for (std::size_t k = 0; k + 1 < stencil.size(); ++k) stencil[k] -= stencil[k + 1];
  }
  const auto rows = static_cast<Eigen::Index>(count - order);
  Eigen::MatrixXd differences = Eigen::MatrixXd::Zero(rows, n);
  for (Eigen::Index row = 0; row < rows; ++row)
    for (std::size_t k = 0; k <= order; ++k) differences(row, row + static_cast<Eigen::Index>(k)) = stencil[k];
  return {detail::weighted_gram(differences, std::vector<double>(count - order, 1.0)), order};
}

/// Second derivative estimates at the inner breakpoints: twice the second divided difference, as any book on numerical
/// analysis has it.
///
/// @param unit  of the axis in which the derivatives are taken.
/// Shape: (n-2) x n; no rows for an axis of two breakpoints.
[[nodiscard]] inline Eigen::MatrixXd second_divided_differences(const dynamic_axis<double>& axis, double unit = 1) {
  const auto& x = axis.points();
  const auto n = static_cast<Eigen::Index>(x.size());
  Eigen::MatrixXd result = Eigen::MatrixXd::Zero(n - 2, n);
  for (Eigen::Index i = 0; i + 2 < n; ++i) {
    const auto k = static_cast<std::size_t>(i);
    const double left = (x[k + 1] - x[k]) / unit, right = (x[k + 2] - x[k + 1]) / unit;
    result(i, i) = 2 / (left * (left + right));
    result(i, i + 1) = -2 / (left * right);
    result(i, i + 2) = 2 / (right * (left + right));
  }
  return result;
}

/// Integral of the squared second derivative over the axis scaled to 0..1, by second divided differences.
///
/// Source: a quadrature of the project's own on divided differences; `spline_roughness` has the integral of a spline.
/// One strength therefore means the same on any axis, in any unit, however its breakpoints are spaced. Straight lines
/// cost nothing.
[[nodiscard]] inline roughness curvature_roughness(const dynamic_axis<double>& axis) {
  const auto& x = axis.points();
  // In units of a power of two near the span, which change no digit: the cube of a span may be too large a number.
  const double unit = std::ldexp(1.0, std::ilogb(x.back() - x.front())), span = (x.back() - x.front()) / unit;
  std::vector<double> width;
  for (std::size_t k = 0; k + 2 < x.size(); ++k) width.push_back(span * span * span * ((x[k + 2] - x[k]) / unit / 2));
  return {detail::weighted_gram(second_divided_differences(axis, unit), width), 2};
}

/// Integral of the squared second derivative of the natural cubic spline through the node values, in the axis's unit.
///
/// Source: C. H. Reinsch, "Smoothing by spline functions", Numer. Math. 10 (1967) 177-183, doi:10.1007/BF02162161:
///         K = Q R^-1 Q'.
[[nodiscard]] inline roughness spline_roughness(const dynamic_axis<double>& axis) {
  const auto& x = axis.points();
  const auto n = static_cast<Eigen::Index>(x.size());
  roughness result{Eigen::MatrixXd::Zero(n, n), 2};
  if (n == 2) return result;
  std::vector<double> diagonal, beside;                       // of R: inner products of the hat functions
  Eigen::MatrixXd scaled = second_divided_differences(axis);  // Q': divided differences before the division
  for (std::size_t k = 0; k + 2 < x.size(); ++k) {
    diagonal.push_back((x[k + 2] - x[k]) / 3);
    if (k + 3 < x.size()) beside.push_back((x[k + 2] - x[k + 1]) / 6);
    for (Eigen::Index j = 0; j < n; ++j) scaled(static_cast<Eigen::Index>(k), j) *= (x[k + 2] - x[k]) / 2;
  }
  const detail::tridiagonal_factor gram(std::move(diagonal), std::move(beside));
  std::vector<double> column(static_cast<std::size_t>(n - 2));
  for (Eigen::Index j = 0; j < n; ++j) {
    for (Eigen::Index i = 0; i < n - 2; ++i) column[static_cast<std::size_t>(i)] = scaled(i, j);
    gram.solve(column);
    for (Eigen::Index i = 0; i < n - 2; ++i)  // row i of Q' has three entries
      for (Eigen::Index k = i; k < i + 3; ++k)
        result.matrix(k, j) += scaled(i, k) * column[static_cast<std::size_t>(i)];
  }
  return result;
}

}  // namespace fettle

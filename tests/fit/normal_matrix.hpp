// SPDX-License-Identifier: MIT
#pragma once

#include <Eigen/Core>
#include <cstddef>

#include "fettle/fit/evidence.hpp"

/// B'WB of some evidence, lower triangle.
inline Eigen::MatrixXd normal_matrix(const fettle::evidence& seen) {
  const auto n = static_cast<Eigen::Index>(seen.cells());
  Eigen::MatrixXd result = Eigen::MatrixXd::Zero(n, n);
  seen.for_each_entry([&](std::size_t row, std::size_t column, double value) {
    result(static_cast<Eigen::Index>(row), static_cast<Eigen::Index>(column)) = value;
  });
  return result;
}

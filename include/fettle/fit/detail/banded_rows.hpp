// SPDX-License-Identifier: MIT
#pragma once

#include <Eigen/Core>
#include <vector>

namespace fettle::detail {

/// d' diag(weight) d for a matrix most of whose entries are zero.
[[nodiscard]] inline Eigen::MatrixXd weighted_gram(const Eigen::MatrixXd& d, const std::vector<double>& weight) {
  Eigen::MatrixXd gram = Eigen::MatrixXd::Zero(d.cols(), d.cols());
  std::vector<Eigen::Index> filled;
  for (Eigen::Index row = 0; row < d.rows(); ++row) {
    filled.clear();
    for (Eigen::Index column = 0; column < d.cols(); ++column)
      if (d(row, column) != 0) filled.push_back(column);
    for (const Eigen::Index a : filled)
      for (const Eigen::Index b : filled) gram(a, b) += weight[static_cast<std::size_t>(row)] * d(row, a) * d(row, b);
  }
  return gram;
}

}  // namespace fettle::detail

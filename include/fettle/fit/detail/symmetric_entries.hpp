// SPDX-License-Identifier: MIT
#pragma once

#include <Eigen/Core>
#include <cstddef>
#include <cstdint>
#include <vector>

#include "fettle/fit/map_term.hpp"

namespace fettle::detail {

/// A symmetric matrix over the cells, by the entries of its lower triangle.
struct symmetric_entries {
  struct entry {
    std::uint32_t row, column;
    std::size_t slot;  ///< in the factor
    double value;
  };
  std::vector<entry> entries;

  void put(std::size_t row, std::size_t column, double value) {
    entries.push_back({static_cast<std::uint32_t>(row), static_cast<std::uint32_t>(column), 0, value});
  }
  [[nodiscard]] Eigen::VectorXd times(const Eigen::VectorXd& x) const {
    Eigen::VectorXd result = Eigen::VectorXd::Zero(x.size());
    for (const entry& e : entries) {
      result[e.row] += e.value * x[e.column];
      if (e.row != e.column) result[e.column] += e.value * x[e.row];
    }
    return result;
  }
  /// x'Mx.
  [[nodiscard]] double form(const Eigen::VectorXd& x) const {
    const Eigen::VectorXd image = times(x);
    double sum = 0;
    for (Eigen::Index k = 0; k < x.size(); ++k) sum += x[k] * image[k];
    return sum;
  }
  /// Adds factor times the diagonal.
  void add_diagonal(Eigen::VectorXd& to, double factor) const {
    for (const entry& e : entries)
      if (e.row == e.column) to[e.row] += factor * e.value;
  }
  [[nodiscard]] double trace() const {
    double sum = 0;
    for (const entry& e : entries)
      if (e.row == e.column) sum += e.value;
    return sum;
  }
};

/// The penalty of one smoothed axis of a term at strength 1, the cells of the term beginning at `offset`.
[[nodiscard]] inline symmetric_entries penalty_of(const map_term& term, std::size_t axis, std::size_t offset) {
  const Eigen::MatrixXd& k = term.smooth[axis].rough.matrix;
  std::size_t inner = 1;  // cells between neighbours along the axis
  for (std::size_t a = axis + 1; a < term.axes.size(); ++a) inner *= term.axes[a].size();
  const std::size_t points = term.axes[axis].size(), outer = term.size() / (points * inner);
  symmetric_entries result;
  for (std::size_t i = 0; i < points; ++i)
    for (std::size_t j = 0; j <= i; ++j) {
      const double value = k(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(j));
      if (value == 0) continue;
      for (std::size_t o = 0; o < outer; ++o)
        for (std::size_t n = 0; n < inner; ++n)
          result.put(offset + (o * points + i) * inner + n, offset + (o * points + j) * inner + n, value);
    }
  return result;
}

}  // namespace fettle::detail

// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "fettle/error.hpp"

namespace fettle {

/// The evidence of samples on unknown cells: the normal equations B'WB, B'Wy, y'Wy, summed sample by sample.
///
/// Evidence adds up: split a log over threads, files or machines, `merge` the parts in a fixed order, and the answer is
/// the same to the bit however often it is repeated.
///
/// Source: weighted least squares, whose normal equations are sums over samples: any textbook.
/// Shape: n cells; memory is the envelope of B'WB (what lies between the first cell that meets cell i, and i).
/// Cost:  k(k+1)/2 multiply-adds for a sample that touches k cells; no allocation once the envelope has been seen.
class evidence {
 public:
  explicit evidence(std::size_t cells) : rows_(cells), first_(cells), moment_(cells) {
    for (std::size_t i = 0; i < cells; ++i) first_[i] = i;
  }

  /// Adds one sample: value = sum of factor * cell, with a weight (1/variance up to a common scale).
  ///
  /// @param cell  strictly increasing.
  void add(std::span<const std::uint32_t> cell, std::span<const double> factor, double value, double weight) {
    for (std::size_t a = 0; a < cell.size(); ++a) {
      const double weighted = weight * factor[a];
      moment_[cell[a]] += weighted * value;
      double* const row = &at(cell[a], cell[0]) - cell[0];  // the envelope reaches from cell[0] on
      for (std::size_t b = 0; b <= a; ++b) row[cell[b]] += weighted * factor[b];
    }
    square_ += weight * value * value;
    ++samples_;
  }

  /// Adds sums formed elsewhere: a block of B'WB, row-major, and of B'Wy, over a few cells.
  void add_sums(std::span<const std::uint32_t> cell, std::span<const double> normal, std::span<const double> moment) {
    for (std::size_t a = 0; a < cell.size(); ++a) {
      moment_[cell[a]] += moment[a];
      for (std::size_t b = 0; b < cell.size(); ++b)
        if (cell[b] <= cell[a]) at(cell[a], cell[b]) += normal[a * cell.size() + b];
    }
  }

  /// Adds y'Wy and the number of samples behind sums formed elsewhere.
  void add_totals(double square, std::size_t samples) noexcept {
    square_ += square;
    samples_ += samples;
  }

  /// Adds the evidence of another part of the samples on the same cells.
  void merge(const evidence& other) {
    if (other.cells() != cells()) throw error("evidence: cannot merge parts about different numbers of cells");
    for (std::size_t i = 0; i < cells(); ++i) {
      for (std::size_t k = 0; k < other.rows_[i].size(); ++k) at(i, other.first_[i] + k) += other.rows_[i][k];
      moment_[i] += other.moment_[i];
    }
    square_ += other.square_;
    samples_ += other.samples_;
  }

  [[nodiscard]] std::size_t cells() const noexcept { return rows_.size(); }
  [[nodiscard]] std::size_t samples() const noexcept { return samples_; }
  [[nodiscard]] double square() const noexcept { return square_; }                      ///< y'Wy
  [[nodiscard]] const std::vector<double>& moment() const noexcept { return moment_; }  ///< B'Wy
  [[nodiscard]] double weight(std::size_t cell) const noexcept {                        ///< diagonal of B'WB
    return rows_[cell].empty() ? 0.0 : rows_[cell].back();
  }

  /// Calls use(row, column, value) for every entry of the lower triangle of B'WB that is not zero.
  template <class Use>
  void for_each_entry(Use&& use) const {
    for (std::size_t i = 0; i < cells(); ++i)
      for (std::size_t k = 0; k < rows_[i].size(); ++k)
        if (rows_[i][k] != 0) use(i, first_[i] + k, rows_[i][k]);
  }

 private:
  [[nodiscard]] double& at(std::size_t row, std::size_t column) {
    auto& entries = rows_[row];
    if (entries.empty() || column < first_[row]) {
      const std::size_t missing = entries.empty() ? row - column + 1 : first_[row] - column;
      entries.insert(entries.begin(), missing, 0.0);
      first_[row] = column;
    }
    return entries[column - first_[row]];
  }

  std::vector<std::vector<double>> rows_;  // row i has columns first_[i] .. i
  std::vector<std::size_t> first_;
  std::vector<double> moment_;
  double square_ = 0;
  std::size_t samples_ = 0;
};

}  // namespace fettle

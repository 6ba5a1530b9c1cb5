// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <cstdint>
#include <map>
#include <span>
#include <vector>

namespace fettle {

/// Samples of a map model, one sparse row each: value = sum of factor * cell + noise.
///
/// Shape: rows in the order added; a row has any number of cells. Storage is contiguous.
class sample_rows {
 public:
  struct row {
    std::span<const std::uint32_t> cell;
    std::span<const double> factor;
    double value = 0;
    double weight = 0;
  };

  /// Adds one entry to the row being written. A cell may come more than once: its factors add.
  void put(std::size_t cell, double factor) {
    cell_.push_back(static_cast<std::uint32_t>(cell));
    factor_.push_back(factor);
  }

  /// Ends the row being written.
  void finish(double value, double weight = 1) {
    order(end_.empty() ? 0 : end_.back());
    end_.push_back(cell_.size());
    value_.push_back(value);
    weight_.push_back(weight);
  }

  [[nodiscard]] std::size_t size() const noexcept { return value_.size(); }
  [[nodiscard]] row operator[](std::size_t i) const noexcept {
    const std::size_t begin = i == 0 ? 0 : end_[i - 1], count = end_[i] - begin;
    return {std::span(cell_).subspan(begin, count), std::span(factor_).subspan(begin, count), value_[i], weight_[i]};
  }

  /// What the cells predict for row i.
  [[nodiscard]] double predict(std::size_t i, std::span<const double> cells) const noexcept {
    const row sample = (*this)[i];
    double sum = 0;
    for (std::size_t k = 0; k < sample.cell.size(); ++k) sum += sample.factor[k] * cells[sample.cell[k]];
    return sum;
  }

 private:
  // Entries from `begin` on: by cell, each cell once, as evidence needs them. Mostly they are so already.
  void order(std::size_t begin) {
    bool in_order = true;
    for (std::size_t k = begin + 1; k < cell_.size(); ++k) in_order = in_order && cell_[k - 1] < cell_[k];
    if (in_order) return;
    std::map<std::uint32_t, double> sum;
    for (std::size_t k = begin; k < cell_.size(); ++k) sum[cell_[k]] += factor_[k];
    cell_.resize(begin);
    factor_.resize(begin);
    for (const auto& [cell, factor] : sum) put(cell, factor);
  }

  std::vector<std::uint32_t> cell_;
  std::vector<double> factor_;
  std::vector<std::size_t> end_;
  std::vector<double> value_, weight_;
};

}  // namespace fettle

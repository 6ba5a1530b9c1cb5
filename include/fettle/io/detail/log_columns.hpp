// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <span>
#include <utility>
#include <vector>

namespace fettle::detail {

/// Turns rows into columns, a block of rows at a time, so that each column is written in one go.
class log_columns {
 public:
  explicit log_columns(std::size_t count) : columns_(count), block_(rows_of_block * count) {}

  /// Shape: one value per column.
  void add(std::span<const double> row) {
    for (std::size_t i = 0; i < row.size(); ++i) block_[i * rows_of_block + waiting_] = row[i];
    ++rows_;
    if (++waiting_ == rows_of_block) move_block();
  }
  [[nodiscard]] std::size_t rows() const noexcept { return rows_; }

  /// Makes room for so many rows.
  void expect(std::size_t rows) {
    for (auto& column : columns_) column.reserve(rows);
  }

  [[nodiscard]] std::vector<std::vector<double>> take() {
    move_block();
    return std::move(columns_);
  }

 private:
  static constexpr std::size_t rows_of_block = 64;

  void move_block() {
    const auto at = [](std::size_t i) { return static_cast<std::ptrdiff_t>(i); };
    for (std::size_t i = 0; i < columns_.size(); ++i) {
      const auto first = block_.begin() + at(i * rows_of_block);
      columns_[i].insert(columns_[i].end(), first, first + at(waiting_));
    }
    waiting_ = 0;
  }

  std::vector<std::vector<double>> columns_;
  std::vector<double> block_;  ///< rows that wait; Shape: [column][rows_of_block]
  std::size_t rows_ = 0, waiting_ = 0;
};

}  // namespace fettle::detail

// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace fettle {

/// A log in memory: named columns of equal length, NaN where a channel was not sampled.
struct log_table {
  std::vector<std::string> names;
  std::vector<std::vector<double>> columns;  ///< one per name
  std::vector<std::string> notes{};          ///< what its reader found beside plain CSV, and did about it

  [[nodiscard]] std::size_t rows() const noexcept { return columns.empty() ? 0 : columns.front().size(); }

  /// The column of this name, or null when the log has none.
  [[nodiscard]] const std::vector<double>* find(std::string_view name) const noexcept {
    for (std::size_t i = 0; i < names.size(); ++i)
      if (names[i] == name) return &columns[i];
    return nullptr;
  }
};

}  // namespace fettle

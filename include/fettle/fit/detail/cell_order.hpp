// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <utility>
#include <vector>

#include "fettle/fit/detail/symmetric_entries.hpp"

namespace fettle::detail {

/// In which order the cells of a model are factored, and where each row of that matrix begins.
struct cell_order {
  std::vector<std::uint32_t> position;  ///< of each cell
  std::vector<std::uint32_t> first;     ///< per position, the first position that its row reaches

  /// Multiply-adds of the factorisation, up to a constant.
  [[nodiscard]] double work() const noexcept {
    double sum = 0;
    for (std::size_t i = 0; i < first.size(); ++i) {
      const auto width = static_cast<double>(i + 1 - first[i]);
      sum += width * width;
    }
    return sum;
  }
};

/// The order that lays terms one after the other, or side by side with cells of like position together. A few numbers
/// that meet every cell come last.
///
/// @param matrices  callable with what to call with each `symmetric_entries` that will be summed.
template <class Matrices>
[[nodiscard]] cell_order order_cells(const std::vector<std::size_t>& term_sizes, bool side_by_side,
                                     Matrices&& matrices) {
  std::size_t largest = 1;
  for (const std::size_t size : term_sizes) largest = (std::max)(largest, size);
  std::vector<std::pair<double, std::uint32_t>> seats;  // key, cell
  for (std::size_t g = 0; g < term_sizes.size(); ++g)
    for (std::size_t c = 0; c < term_sizes[g]; ++c) {
      const double share = static_cast<double>(c) / static_cast<double>(term_sizes[g]);
      const double key = 8 * term_sizes[g] < largest ? 1e9 : side_by_side ? share : static_cast<double>(g);
      seats.emplace_back(key, static_cast<std::uint32_t>(seats.size()));
    }
  std::sort(seats.begin(), seats.end());  // cells break ties
  cell_order result{std::vector<std::uint32_t>(seats.size()), std::vector<std::uint32_t>(seats.size())};
  for (std::size_t k = 0; k < seats.size(); ++k)
    result.position[seats[k].second] = result.first[k] = static_cast<std::uint32_t>(k);
  matrices([&](const symmetric_entries& matrix) {
    for (const auto& e : matrix.entries) {
      const std::uint32_t a = result.position[e.row], b = result.position[e.column];
      std::uint32_t& first = result.first[(std::max)(a, b)];
      first = (std::min)({first, a, b});
    }
  });
  return result;
}

}  // namespace fettle::detail

// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <cstdint>
#include <vector>

#include "fettle/lambda/recording.hpp"
#include "fettle/map/dynamic_table.hpp"
#include "fettle/map/place.hpp"

namespace fettle::detail {

/// The half of a cell along each axis, as one number, at every row: the surface between breakpoints is not bilinear, so that
/// what is left of readings in one of these quarters has one sign.
[[nodiscard]] inline std::vector<std::uint32_t> quarters(const recording& log, const dynamic_table<double>& base) {
  std::vector<std::uint32_t> result(log.rows(), 0);
  for (std::size_t i = 0; i < log.rows(); ++i) {
    std::uint32_t quarter = 0;
    for (std::size_t a = 0; a < base.rank(); ++a) {
      const auto [index, fraction] = locate(base.axes()[a].view(), log.at[a][i]);
      quarter = quarter * static_cast<std::uint32_t>(2 * base.axes()[a].size() - 2) +
                static_cast<std::uint32_t>(2 * index) + (fraction > 0.5 ? 1U : 0U);
    }
    result[i] = quarter;
  }
  return result;
}

/// The middle of a quarter.
[[nodiscard]] inline std::vector<double> middle_of(std::uint32_t quarter, const dynamic_table<double>& base) {
  std::vector<double> result(base.rank());
  for (std::size_t a = base.rank(); a-- > 0;) {
    const auto& points = base.axes()[a].points();
    const std::size_t halves = 2 * points.size() - 2, half = quarter % halves;
    quarter /= static_cast<std::uint32_t>(halves);
    const double low = points[half / 2], high = points[half / 2 + 1];
    result[a] = low + (high - low) * (half % 2 == 0 ? 0.25 : 0.75);
  }
  return result;
}

}  // namespace fettle::detail

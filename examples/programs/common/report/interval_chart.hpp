// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "common/report/chart.hpp"
#include "common/report/gnuplot.hpp"
#include "common/report/line_chart.hpp"

namespace report {

/// Values with the interval each is known to lie in.
struct intervals {
  std::string name;
  std::span<const double> values, low, high;  ///< what is not finite is left out
};

enum class interval_style { points, bars };

/// Points or bars with error bars, several series beside each other.
struct interval_chart {
  std::string x_label, y_label;       ///< with units
  std::span<const double> x{};        ///< where the values stand, ascending; or:
  std::vector<std::string> groups{};  ///< names of equally spaced places
  std::vector<intervals> series{};
  interval_style style = interval_style::points;
  std::vector<limit_line> limits{};
  picture_size size{};
};

/// Draws the chart; none without gnuplot.
///
/// Errors: `fettle::error` when a series has not one value, low and high per place.
[[nodiscard]] std::optional<std::string> draw(const interval_chart& chart);

}  // namespace report

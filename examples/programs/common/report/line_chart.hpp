// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "common/report/chart.hpp"
#include "common/report/gnuplot.hpp"
#include "common/report/thinning.hpp"
#include "fettle/error.hpp"

namespace report {

enum class drawn_as { line, dots, line_and_points };

/// One quantity against x. What is not finite is a gap.
struct series {
  std::string name;
  std::span<const double> x, y;
  drawn_as style = drawn_as::line;
};

/// A shaded band between two lines.
struct band {
  std::string name;
  std::span<const double> x, low, high;
};

/// Several series against x, of any length: only what the picture can show is drawn.
struct line_chart {
  std::string x_label, y_label;  ///< with units
  std::vector<report::series> series{};
  std::vector<limit_line> limits{};
  std::optional<report::band> band{};
  std::optional<range> x_range{}, y_range{};  ///< none: all there is
  picture_size size{};
};

namespace detail {

/// Refuses a series of which x and y differ in length.
void check_lengths(std::string_view name, std::size_t x, std::size_t y);

}  // namespace detail

/// Draws the chart; none without gnuplot.
///
/// Errors: `fettle::error` when x and y of a series differ in length.
/// Cost:   linear in points; what gnuplot gets depends on the size only.
[[nodiscard]] std::optional<std::string> draw(const line_chart& chart);

}  // namespace report

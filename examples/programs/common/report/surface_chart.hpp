// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "common/report/chart.hpp"
#include "common/report/gnuplot.hpp"
#include "fettle/error.hpp"

namespace report {

/// A map seen as a landscape.
struct surface {
  std::string title;
  std::span<const double> rows, columns;  ///< breakpoints
  std::span<const double> values;         ///< row-major; what is not finite leaves a hole
};

/// Maps side by side, over axes of the same kind, with the same heights and colours.
struct surface_chart {
  std::string row_label, column_label, value_label;  ///< with units
  std::vector<surface> surfaces{};
  scale colours = sequential{};
  picture_size size{1000, 480};
};

/// Draws the surfaces; none without gnuplot.
///
/// Errors: `fettle::error` when values do not fit the axes.
[[nodiscard]] std::optional<std::string> draw(const surface_chart& chart);

}  // namespace report

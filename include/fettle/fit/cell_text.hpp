// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <cstdio>
#include <string>
#include <vector>

#include "fettle/map/dynamic_table.hpp"

namespace fettle {

/// A number as short text.
[[nodiscard]] inline std::string short_text(double x) {
  char text[32];
  const int length = std::snprintf(text, sizeof text, "%.6g", x);
  return {text, static_cast<std::size_t>(length)};
}

/// The place of a cell in words: its breakpoints in axis order, as in "cell (3000, 40)".
[[nodiscard]] inline std::string cell_text(const std::vector<dynamic_axis<double>>& axes, std::size_t cell) {
  std::string text;
  for (const double x : cell_coordinates(axes, cell)) text += (text.empty() ? "" : ", ") + short_text(x);
  return "cell (" + text + ")";
}

}  // namespace fettle

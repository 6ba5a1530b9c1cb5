// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <cstdio>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "fettle/error.hpp"
#include "fettle/fit/strengths.hpp"
#include "fettle/map/dynamic_table.hpp"

namespace fettle {

/// How strongly to smooth: chosen from the data, or given, one number per axis (`smooth_term` says what it means).
using smoothness = std::variant<criterion, std::vector<double>>;

/// A map made from numbers, with what is known of every cell.
struct fitted_map {
  dynamic_table<double> table;
  std::vector<double> standard_error;     ///< per cell; infinite for a cell that nothing determines
  std::vector<std::size_t> undetermined;  ///< those cells: they hold the value they had before, or zero
  std::vector<double> strength;           ///< of smoothing, per axis, as used
  double effective_parameters = 0;
  double noise = 0;  ///< standard deviation of a value of weight 1

  /// Whether every cell was determined; if not, `undetermined` names the others.
  [[nodiscard]] bool is_determined() const noexcept { return undetermined.empty(); }
};

/// A number as short text.
[[nodiscard]] inline std::string short_text(double x) {
  char text[32];
  const int length = std::snprintf(text, sizeof text, "%.6g", x);
  return {text, static_cast<std::size_t>(length)};
}

/// The place of a cell in words: its breakpoints in axis order, as in "cell (3000, 40)".
[[nodiscard]] inline std::string cell_text(const std::vector<dynamic_axis<double>>& axes, std::size_t cell) {
  std::string text;
  for (std::size_t a = axes.size(); a-- > 0; cell /= axes[a].size())
    text = short_text(axes[a].points()[cell % axes[a].size()]) + (text.empty() ? "" : ", ") + text;
  return "cell (" + text + ")";
}

namespace detail {

[[nodiscard]] inline dynamic_table<double> table_of(std::vector<dynamic_axis<double>> axes,
                                                    std::vector<double> values) {
  auto table = dynamic_table<double>::from(std::move(axes), std::move(values));
  if (!table) throw error("table: the number of values is not the product of the axis sizes");
  return *std::move(table);
}

/// A term on these axes, smoothed as asked; strengths to be chosen begin at 1.
[[nodiscard]] inline map_term term_for(const std::vector<dynamic_axis<double>>& axes, const smoothness& how) {
  const auto* given = std::get_if<std::vector<double>>(&how);
  return smooth_term(axes, given != nullptr ? *given : std::vector<double>(axes.size(), 1.0));
}

}  // namespace detail
}  // namespace fettle

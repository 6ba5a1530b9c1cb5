// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <cstddef>
#include <span>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "fettle/error.hpp"
#include "fettle/fit/fit_rows.hpp"
#include "fettle/fit/fitted_map.hpp"
#include "fettle/fit/smoothness.hpp"

namespace fettle {

struct fit_options {
  smoothness smooth = criterion::reml;
  fettle::loss loss = fettle::loss::squares;
};

/// Fits a map of rank 1 to 3 to scattered points through the map's own interpolation weights.
///
/// @param at      the points' coordinates, point after point, each in axis order.
/// @param value   one per point.
/// @param weight  one per point (1 / variance up to a common scale), or none: all alike.
/// Outside:  a point beyond an axis counts at its end.
/// Errors:   `fettle::error` names a point that is not finite. Cells that the points do not determine are listed, with
///           an infinite standard error and the value zero; never NaN. No points at all: every cell is listed.
/// Source:   a multilinear map is linear in its cells (`interpolate`), so this is `fit_rows` on rows of its weights.
/// Cost:     `fit_rows`, and `choose_strengths` unless the strengths are given.
[[nodiscard]] inline fitted_map fit_table(std::vector<dynamic_axis<double>> axes, std::span<const double> at,
                                          std::span<const double> value, std::span<const double> weight = {},
                                          const fit_options& options = {}) {
  const std::size_t rank = axes.size();
  if (rank == 0 || at.size() != rank * value.size() || (!weight.empty() && weight.size() != value.size()))
    throw error("fit_table: give one coordinate per axis and point, and one weight per point or none");
  const map_model model({detail::term_for(axes, options.smooth)});
  sample_rows rows;
  for (std::size_t i = 0; i < value.size(); ++i) {
    const auto point = at.subspan(rank * i, rank);
    for (const double x : point)
      if (std::isnan(x))
        throw error("fit_table: point " + std::to_string(i) + " has a coordinate that is not a number");
    model.put(rows, 0, 1.0, point);
    rows.finish(value[i], weight.empty() ? 1.0 : weight[i]);
  }
  row_fit_options row_options{.loss = options.loss};
  if (const auto* rule = std::get_if<criterion>(&options.smooth)) row_options.strengths = *rule;
  row_fit fit = fit_rows(model, rows, row_options);
  return {.table = detail::table_of(std::move(axes), std::move(fit.cells.value)),
          .standard_error = std::move(fit.cells.standard_error),
          .undetermined = std::move(fit.cells.undetermined),
          .strength = fit.model.strengths(),
          .effective_parameters = fit.cells.effective_parameters,
          .noise = std::sqrt(fit.cells.noise_variance)};
}

}  // namespace fettle

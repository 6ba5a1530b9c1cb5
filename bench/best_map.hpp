// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <vector>

#include "correction_trial.hpp"
#include "fettle/fit.hpp"
#include "fettle/map/interpolate.hpp"

namespace correction_table {

/// The correction that comes nearest to the truth at the driven points, and how much was driven in its cells.
struct best_map {
  std::vector<double> correction;  ///< 1 where nothing was driven
  std::vector<double> rows;        ///< per cell: sum of the interpolation weights of the rows with fuel
};

/// The best that a map with these axes can do: least squares on the relative error, fitted to the truth itself.
[[nodiscard]] inline best_map fit_best_map(const trial& trial) {
  const std::array<double, 2> gentle{1e-5, 1e-5};
  fettle::map_term term = fettle::smooth_term(trial.base.axes(), gentle);
  term.prior.assign(trial.base.size(), 1.0);
  term.pull.assign(trial.base.size(), 0.01);
  const fettle::map_model model({std::move(term)});
  fettle::evidence seen(model.cells());
  best_map result{.correction = {}, .rows = std::vector<double>(trial.base.size(), 0.0)};
  const auto view = trial.base.view<2>();
  for (std::size_t i = 0; i < trial.log.rows(); ++i) {
    if (!trial.burns(i)) continue;
    const auto weights = fettle::stencil_at(view.axes, {fettle::locate(view.axes[0], trial.log.at[0][i]),
                                                        fettle::locate(view.axes[1], trial.log.at[1][i])});
    const double value = fettle::interpolate(view, trial.log.at[0][i], trial.log.at[1][i]);
    std::array<std::uint32_t, 4> cell{};
    std::array<double, 4> share{};
    for (std::size_t k = 0; k < 4; ++k) {
      cell[k] = static_cast<std::uint32_t>(weights.cell[k]);
      share[k] = weights.weight[k] * trial.base.values()[weights.cell[k]] / value;
      result.rows[weights.cell[k]] += weights.weight[k];
    }
    seen.add(cell, share, trial.needed(i), 1);
  }
  result.correction = model.solve(seen).value;
  return result;
}

}  // namespace correction_table

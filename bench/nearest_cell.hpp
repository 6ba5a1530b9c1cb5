// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <cstddef>
#include <vector>

#include "correction_trial.hpp"

namespace correction_table {

/// As a spreadsheet does it: lambda over its target one fixed delay earlier, in calm driving only, averaged into the
/// nearest cell. 1 where no reading came.
[[nodiscard]] inline std::vector<double> nearest_cell(const trial& trial) {
  const fettle::recording& log = trial.log;
  const auto& sensor = trial.session.sensors[0];
  const double delay_s =
      fettle::steady_delay_s({trial.session.revolutions, sensor.pipe_gas_mass_g, sensor.latency_s, 0}, 4500, 40) +
      sensor.lag_s;
  const auto late = static_cast<std::size_t>(std::lround(delay_s * 100));
  const auto view = trial.base.view<2>();
  std::vector<double> sum(trial.base.size(), 0.0), count(trial.base.size(), 0.0);
  std::size_t still = 0;  // rows since the last cut or quick throttle change
  for (std::size_t i = 1; i + late < log.rows(); ++i) {
    const bool moves = std::abs(log.throttle_pct[i] - log.throttle_pct[i - 1]) > 0.3 || !trial.burns(i);
    still = moves ? 0 : still + 1;
    const double lambda = log.sensors[0].lambda[i + late], off_target = lambda / log.target_lambda[i];
    const bool calm = still > 100 && log.coolant_degc[i] > 60 && std::abs(off_target - 1) < 0.25;
    if (!calm || !(lambda > log.sensors[0].lowest && lambda < log.sensors[0].highest)) continue;
    const auto row = fettle::locate(view.axes[0], log.at[0][i]), column = fettle::locate(view.axes[1], log.at[1][i]);
    const std::size_t cell =
        (row.index + (row.fraction >= 0.5)) * view.axes[1].size + column.index + (column.fraction >= 0.5);
    sum[cell] += off_target;
    ++count[cell];
  }
  for (std::size_t k = 0; k < sum.size(); ++k) sum[k] = count[k] > 0 ? sum[k] / count[k] : 1;
  return sum;
}

}  // namespace correction_table

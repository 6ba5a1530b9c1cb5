// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <cstddef>
#include <nlohmann/json.hpp>
#include <vector>

#include "fettle/lambda.hpp"
#include "fettle/map/axis.hpp"
#include "laboratory/pictures/invented_drive.hpp"

namespace laboratory {

/// Lambda over its target, averaged into the nearest cell.
struct cell_averages {
  std::vector<double> correction;  ///< 1 where no reading came
  std::vector<double> readings;    ///< how many came
};

/// As a spreadsheet does it.
///
/// @param delay_s    a reading is about what was injected so long before it.
/// @param only_calm  without readings within a second after a cut or a quick movement of the throttle.
[[nodiscard]] inline cell_averages nearest_cell(const invented_drive& drive, double delay_s, bool only_calm) {
  constexpr double rows_per_s = 100;
  const fettle::recording& log = drive.log;
  const auto late = static_cast<std::size_t>(std::lround(delay_s * rows_per_s));
  const auto view = drive.base.view<2>();
  cell_averages result{std::vector<double>(drive.base.size(), 0.0), std::vector<double>(drive.base.size(), 0.0)};
  double still = 0;
  for (std::size_t i = 1; i + late < log.rows(); ++i) {
    const bool burns = log.fuel_cut[i] == 0, moves = std::abs(log.throttle_pct[i] - log.throttle_pct[i - 1]) > 0.3;
    still = moves || !burns ? 0 : still + 1;
    const double lambda = log.sensors[0].lambda[i + late];
    const bool in_range = lambda > log.sensors[0].lowest && lambda < log.sensors[0].highest;
    if (!burns || !in_range || (only_calm && still <= rows_per_s)) continue;
    const auto row = fettle::locate(view.axes[0], log.at[0][i]), column = fettle::locate(view.axes[1], log.at[1][i]);
    const std::size_t cell =
        (row.index + (row.fraction >= 0.5)) * view.axes[1].size + column.index + (column.fraction >= 0.5);
    result.correction[cell] += lambda / log.target_lambda[i];
    ++result.readings[cell];
  }
  for (std::size_t k = 0; k < result.correction.size(); ++k)
    result.correction[k] = result.readings[k] > 0 ? result.correction[k] / result.readings[k] : 1;
  return result;
}

/// One log, three maps: every reading into the nearest cell at once; calm readings one fixed delay late; identified
/// together with path and films. And the truth.
///
/// Question: seed of the car and driver; delay_s; factor, by which the tuner's delays, films and pipe are off.
/// Answer:   axes; truth_pct; at_once, delayed and identified, each with needs_pct (null where nothing is known) and the
///           rms_pct and lean_pct that the map so corrected would leave; nothing, the same of the map as it is.
[[nodiscard]] inline nlohmann::json three_ways(const nlohmann::json& question) {
  const invented_drive& drive = driven_once(question.at("seed"), 6, question.at("factor"));
  nlohmann::json result{{"axes", axes_json(drive.base)},
                        {"truth_pct", truth_pct(drive, drive.base)},
                        {"nothing", error_of(drive, drive.base)}};
  const auto averaged = [&](const char* name, const cell_averages& averages) {
    result[name] = error_of(drive, corrected(drive.base, averages.correction));
    result[name]["needs_pct"] = as_pct(averages.correction);
    for (std::size_t k = 0; k < averages.readings.size(); ++k)
      if (averages.readings[k] == 0) result[name]["needs_pct"][k] = nullptr;
  };
  averaged("at_once", nearest_cell(drive, 0, false));
  averaged("delayed", nearest_cell(drive, question.at("delay_s"), true));

  // [identified]
  const auto identified =
      fettle::identify({drive.log}, drive.base, session::make_dynamics(drive.session, session::path_trust::prior));
  // [/identified]
  std::vector<double> needed;
  for (const auto& cell : fettle::evidence_of(identified)) needed.push_back(cell.correction);
  result["identified"] = error_of(drive, corrected(drive.base, needed));
  result["identified"]["needs_pct"] = as_pct(needed);
  return result;
}

}  // namespace laboratory

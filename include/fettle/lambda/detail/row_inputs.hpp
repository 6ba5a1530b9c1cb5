// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <cstddef>
#include <vector>

#include "fettle/lambda/recording.hpp"

namespace fettle::detail {

/// What the rows of a log put in, per unit of time. A row with a missing input repeats the row before, so that nothing
/// behind it is lost.
struct row_inputs {
  std::vector<std::vector<double>> flow;  ///< fuel of each bank, mg * rpm
  std::vector<double> need_flow;          ///< fuel that the map asks for at lambda 1, mg * rpm
  std::vector<double> speed_rpm;
  std::vector<std::size_t> source;  ///< the row whose inputs stand for this row

  /// Errors: as `recording::check`.
  explicit row_inputs(const recording& log)
      : flow(log.fuel_mg.size(), std::vector<double>(log.rows())),
        need_flow(log.rows()),
        speed_rpm(log.rows()),
        source(log.rows()) {
    log.check();
    for (std::size_t i = 0; i < log.rows(); ++i) {
      bool sound = log.need_mg[i] > 0 && std::isfinite(log.need_mg[i]) && log.speed_rpm[i] > 0 &&
                   std::isfinite(log.speed_rpm[i]);
      for (const auto& series : log.at) sound = sound && std::isfinite(series[i]);
      for (const auto& series : log.fuel_mg) sound = sound && std::isfinite(series[i]);
      source[i] = sound || i == 0 ? i : source[i - 1];
      const std::size_t from = source[i];
      const bool usable = sound || from != i;
      need_flow[i] = usable && log.need_mg[from] > 0 ? log.need_mg[from] * log.speed_rpm[from] : 1.0;
      speed_rpm[i] = usable && std::isfinite(log.speed_rpm[from]) ? log.speed_rpm[from] : 0.0;
      for (std::size_t b = 0; b < flow.size(); ++b) {
        const double fuel = log.fuel_mg[b][from] * log.speed_rpm[from];
        flow[b][i] = std::isfinite(fuel) ? fuel : 0.0;
      }
    }
  }
};

}  // namespace fettle::detail

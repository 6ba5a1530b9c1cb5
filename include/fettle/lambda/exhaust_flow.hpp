// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <span>
#include <vector>

#include "fettle/lambda/recording.hpp"
#include "fettle/map/dynamic_stencil.hpp"
#include "fettle/map/dynamic_table.hpp"

namespace fettle {

/// How much gas flowed through the exhaust while the engine ran at each cell, as a share of the largest flow in the logs.
///
/// Where little flows, air from outside reaches a sensor through the end of the pipe and unburnt charges weigh most, so that
/// a reading may be lean although the mixture is not: common practice, no source.
/// @return  per cell the mean over the rows about it; 0 where no row is.
[[nodiscard]] inline std::vector<double> exhaust_flow_share(const std::vector<recording>& logs,
                                                            const dynamic_table<double>& map) {
  std::vector<double> flow(map.size(), 0.0), weight(map.size(), 0.0), x(map.rank());
  double largest = 0;
  for (const auto& log : logs)
    for (std::size_t i = 0; i < log.rows(); ++i) {
      const double here = log.need_mg[i] * log.speed_rpm[i];
      for (std::size_t a = 0; a < x.size(); ++a) x[a] = log.at[a][i];
      if (!(here > 0) || !std::all_of(x.begin(), x.end(), [](double each) { return std::isfinite(each); })) continue;
      largest = (std::max)(largest, here);
      const auto corners = stencil_at(map.axes(), std::span<const double>(x));
      for (std::size_t k = 0; k < corners.size; ++k) {
        flow[corners.cell[k]] += corners.weight[k] * here;
        weight[corners.cell[k]] += corners.weight[k];
      }
    }
  for (std::size_t k = 0; k < flow.size(); ++k) flow[k] = weight[k] > 0 ? flow[k] / (weight[k] * largest) : 0;
  return flow;
}

/// By how much readings may be leaner than the mixture at a share of the largest exhaust flow, as a fraction: 5 % without
/// flow, falling to 1/e of that with every twentieth of the largest flow. Common practice, no source.
[[nodiscard]] inline double false_lean(double flow_share) noexcept {
  return 0.05 * std::exp(-flow_share / 0.05);
}

}  // namespace fettle

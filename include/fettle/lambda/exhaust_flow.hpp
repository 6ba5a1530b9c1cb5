// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <limits>
#include <span>
#include <vector>

#include "fettle/lambda/recording.hpp"
#include "fettle/lambda/screening.hpp"
#include "fettle/map/cell_coordinates.hpp"
#include "fettle/map/dynamic_stencil.hpp"
#include "fettle/map/dynamic_table.hpp"

namespace fettle {

/// How much gas flowed through the exhaust while the engine ran at each cell, as a share of the largest flow in the logs.
///
/// Where little flows, air from outside reaches a sensor through the end of the pipe and unburnt charges weigh most, so that
/// a reading may be lean although the mixture is not: common practice, no source. Only rows with fuel on the map count,
/// and the largest flow is that of 99 % of them, so that a glitch of the speed says nothing.
/// @return  per cell the mean over the rows about it; where no row is, that of the nearest cell by breakpoints.
[[nodiscard]] inline std::vector<double> exhaust_flow_share(const std::vector<recording>& logs,
                                                            const dynamic_table<double>& map,
                                                            const screening& limits = {}) {
  std::vector<double> share(map.size(), 0.0), weight(map.size(), 0.0), x(map.rank()), flows;
  for (const auto& log : logs) {
    const auto rows = detail::screen_rows(log, map.axes(), limits);
    for (std::size_t i = 0; i < log.rows(); ++i) {
      if (rows[i] != rejection::none) continue;
      flows.push_back(log.need_mg[i] * log.speed_rpm[i]);
      for (std::size_t a = 0; a < x.size(); ++a) x[a] = log.at[a][i];
      const auto corners = stencil_at(map.axes(), std::span<const double>(x));
      for (std::size_t k = 0; k < corners.size; ++k) {
        share[corners.cell[k]] += corners.weight[k] * flows.back();
        weight[corners.cell[k]] += corners.weight[k];
      }
    }
  }
  if (flows.empty()) return share;
  const auto largest = flows.begin() + static_cast<std::ptrdiff_t>(99 * (flows.size() - 1) / 100);
  std::nth_element(flows.begin(), largest, flows.end());
  for (std::size_t k = 0; k < share.size(); ++k)
    if (weight[k] > 0 && *largest > 0) share[k] = (std::min)(1.0, share[k] / (weight[k] * *largest));
  std::array<std::size_t, 3> sizes{1, 1, 1};
  for (std::size_t a = 0; a < map.rank(); ++a) sizes[sizes.size() - map.rank() + a] = map.axes()[a].size();
  for (std::size_t k = 0; k < share.size(); ++k) {
    if (weight[k] > 0) continue;
    std::size_t nearest = (std::numeric_limits<std::size_t>::max)();
    const auto here = cell_indices(sizes, k);
    for (std::size_t other = 0; other < share.size(); ++other) {
      if (!(weight[other] > 0)) continue;
      const auto there = cell_indices(sizes, other);
      std::size_t distance = 0;
      for (std::size_t a = 0; a < here.size(); ++a)
        distance += (std::max)(here[a], there[a]) - (std::min)(here[a], there[a]);
      if (distance >= nearest) continue;
      nearest = distance;
      share[k] = share[other];
    }
  }
  return share;
}

/// By how much readings may be leaner than the mixture at a share of the largest exhaust flow, as a fraction: 3 % without
/// flow, none from a tenth of the largest flow on. Common practice, no source.
[[nodiscard]] inline double false_lean(double flow_share) noexcept {
  return 0.03 * (std::max)(0.0, 1 - flow_share / 0.1);
}

}  // namespace fettle

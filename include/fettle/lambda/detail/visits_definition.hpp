// SPDX-License-Identifier: MIT
#pragma once

#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <cstddef>
#include <span>
#include <utility>
#include <vector>

#include "fettle/compiled.hpp"
#include "fettle/error.hpp"
#include "fettle/lambda/visits.hpp"
#include "fettle/map/dynamic_table.hpp"

namespace fettle {

FETTLE_INLINE std::vector<visit> next_visits(const dynamic_table<double>& map, const Eigen::MatrixXd& covariance,
                                             std::span<const double> usage, const visit_options& options) {
  const auto cells = static_cast<Eigen::Index>(map.size());
  if (covariance.rows() != cells || usage.size() != map.size())
    throw error("next_visits: covariance and usage must have one entry per cell of the map");
  if (!(options.reading_error > 0)) throw error("next_visits: the reading error must be above 0");
  for (const double share : usage)
    if (!(share >= 0) || !std::isfinite(share)) throw error("next_visits: a usage is negative or not finite");
  const Eigen::Map<const Eigen::VectorXd> weight(usage.data(), cells);
  // The covariance after the visits so far is the one given less shared * shared', a column for each of them.
  Eigen::MatrixXd shared(cells, 0);
  Eigen::VectorXd variance = covariance.diagonal();
  Eigen::VectorXd fall = covariance.cwiseAbs2().transpose() * weight;  // of the weighted variance, times a visit's own
  const double all = weight.dot(variance);
  const double reading_variance = options.reading_error * options.reading_error;

  std::vector<visit> result;
  while (result.size() < options.count && all > 0) {
    // Candidates are the breakpoints' crossings: there a visit speaks of one cell alone.
    Eigen::Index best = 0;
    const double most = (fall.array() / (variance.array() + reading_variance)).maxCoeff(&best);
    if (!(most > 0)) break;
    visit next{.at = cell_coordinates(map.axes(), static_cast<std::size_t>(best)),
               .error_before = std::sqrt((std::max)(0.0, variance[best])),
               .gain = most / all};
    const Eigen::VectorXd column =
        (covariance.col(best) - shared * shared.row(best).transpose()) / std::sqrt(reading_variance + variance[best]);
    const Eigen::VectorXd weighed = weight.cwiseProduct(column);
    const Eigen::VectorXd met = covariance * weighed - shared * (shared.transpose() * weighed);
    fall += column.cwiseProduct(weighed.dot(column) * column - 2 * met);
    variance -= column.cwiseAbs2();
    shared.conservativeResize(Eigen::NoChange, shared.cols() + 1);
    shared.rightCols<1>() = column;
    next.error_after = std::sqrt((std::max)(0.0, variance[best]));
    result.push_back(std::move(next));
  }
  return result;
}

}  // namespace fettle

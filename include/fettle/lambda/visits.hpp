// SPDX-License-Identifier: MIT
#pragma once

#include <Eigen/Dense>
#include <array>
#include <cmath>
#include <cstddef>
#include <span>
#include <vector>

#include "fettle/error.hpp"
#include "fettle/map/dynamic_table.hpp"
#include "fettle/map/stencil.hpp"

namespace fettle {

/// A steady point worth driving to.
struct visit {
  std::vector<double> at;   ///< one coordinate per axis
  double error_before = 0;  ///< standard error of the correction there
  double error_after = 0;   ///< after this visit and those ranked before it
  double gain = 0;          ///< share of the usage-weighted variance that this visit removes
};

struct visit_options {
  std::size_t count = 10;       ///< how many visits to name
  double reading_error = 0.01;  ///< standard deviation of a whole visit's mean reading, in lambda
};

/// How much a cell matters by how long the engine ran there: a cell that is used a hundred times as much matters ten times
/// as much, for one that is seldom used is lean or not all the same.
[[nodiscard]] inline std::vector<double> usage_of(std::vector<double> seconds) {
  for (double& cell : seconds) cell = std::sqrt(cell);
  return seconds;
}

/// Where to drive next: points ranked by how much a steady visit lowers what is still uncertain where the car is used.
///
/// Each point is chosen with those before it already driven, so that the list is a plan, not ten names of one hole.
///
/// @param covariance  of the cells' corrections.
/// @param usage       per cell, >= 0: how much the car is used there.
/// Errors: `fettle::error` when sizes do not fit or a usage is negative or not finite.
/// Cost:   count * cells squared.
/// Source: greedy choice of the largest fall of weighted posterior variance (A-optimality): K. Chaloner, I. Verdinelli,
///         "Bayesian experimental design: a review", Statist. Sci. 10 (1995) 273-304, doi:10.1214/ss/1177009939.
[[nodiscard]] inline std::vector<visit> next_visits(const dynamic_table<double>& map, const Eigen::MatrixXd& covariance,
                                                    std::span<const double> usage, const visit_options& options = {}) {
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

// SPDX-License-Identifier: MIT
#pragma once

#include <Eigen/Core>
#include <cmath>
#include <cstddef>
#include <span>
#include <vector>

#include "fettle/compiled.hpp"
#include "fettle/map/dynamic_table.hpp"

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
[[nodiscard]] FETTLE_INLINE std::vector<visit> next_visits(const dynamic_table<double>& map,
                                                           const Eigen::MatrixXd& covariance,
                                                           std::span<const double> usage,
                                                           const visit_options& options = {});

}  // namespace fettle

#ifndef FETTLE_COMPILED
#include "fettle/lambda/detail/visits_definition.hpp"
#endif

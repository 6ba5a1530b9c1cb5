// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <cstddef>
#include <limits>

#include "fettle/fit/map_fit.hpp"
#include "fettle/fit/penalised_system.hpp"

namespace fettle {

/// The estimate of every cell from a solved system, given the samples' weighted squares.
///
/// Source: noise variance = squares / (samples - effective parameters), G. Wahba, "Bayesian 'confidence intervals' for
///         the cross-validated smoothing spline", J. R. Statist. Soc. B 45 (1983) 133-150 (from memory).
/// @param growth  of the noise variance over squares / (samples - effective parameters), for robust fits.
[[nodiscard]] inline map_fit conclude(penalised_system& system, double squares, double growth = 1) {
  map_fit result;
  result.undetermined = system.undetermined();
  result.samples = system.samples();
  result.effective_parameters = system.effective_parameters();
  result.weighted_squares = squares;
  const double free = result.samples - result.effective_parameters;
  const double rounding =  // the weak pull on cells that nothing determines costs the trace some figures
      1e-8 * result.samples + (result.undetermined.empty() ? 0.0 : 1e-4 * result.effective_parameters);
  result.noise_variance = free > rounding ? growth * squares / free : std::numeric_limits<double>::infinity();
  const Eigen::VectorXd variance = system.variance();
  for (Eigen::Index k = 0; k < variance.size(); ++k) {
    result.value.push_back(system.cells()[k]);
    result.standard_error.push_back(std::sqrt(result.noise_variance * variance[k]));
  }
  for (const std::size_t cell : result.undetermined) {
    result.value[cell] = system.prior()[static_cast<Eigen::Index>(cell)];
    result.standard_error[cell] = std::numeric_limits<double>::infinity();
  }
  return result;
}

}  // namespace fettle

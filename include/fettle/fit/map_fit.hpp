// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <vector>

namespace fettle {

/// The result of a fit, one entry per cell of the model, terms end to end.
struct map_fit {
  std::vector<double> value;
  std::vector<double> standard_error;     ///< infinite for a cell that nothing determines
  std::vector<std::size_t> undetermined;  ///< cells that neither samples nor priors determine; their value is the prior
  double effective_parameters = 0;        ///< trace of the influence of the samples
  double weighted_squares = 0;            ///< sum of weight * residual^2
  double noise_variance = 0;              ///< of a sample of weight 1; infinite when no sample is left to estimate it
  double samples = 0;

  /// Generalised cross-validation score, n rss / (n - edf)^2.
  /// Source: P. Craven, G. Wahba, Numer. Math. 31 (1979) 377-403, doi:10.1007/BF01404567.
  [[nodiscard]] double gcv() const noexcept {
    const double free = samples - effective_parameters;
    return samples * weighted_squares / (free * free);
  }
};

}  // namespace fettle

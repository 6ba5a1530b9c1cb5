// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>

namespace fettle::detail {

/// h(z) = pdf(z) / Phi(z) of the standard normal distribution: the inverse Mills ratio.
///
/// Far out in the lower tail a continued fraction takes over where Phi runs out of digits.
/// Source: M. Abramowitz, I. A. Stegun, "Handbook of Mathematical Functions", 26.2.14 (from memory).
[[nodiscard]] inline double inverse_mills_ratio(double z) noexcept {
  if (z > 40) return 0;
  if (z < -5) {
    const double x = -z;
    double fraction = x;
    for (int k = 60; k > 0; --k) fraction = x + k / fraction;
    return fraction;
  }
  constexpr double root_half = 0.70710678118654752, root_2_over_pi = 0.79788456080286536;
  return root_2_over_pi * std::exp(-0.5 * z * z) / std::erfc(-z * root_half);
}

/// A reading at the end of a sensor's range, as a row of weighted least squares: residual and weight in place of those
/// of a reading that was measured.
///
/// The log-likelihood of "at least this far" is ln Phi(z), its curvature h (h + z). Far inside the agreement it weighs
/// nothing; contradicted, it pulls like a reading at the end.
/// Source: J. Tobin, "Estimation of relationships for limited dependent variables", Econometrica 26 (1958) 24-36,
///         doi:10.2307/1907382 (from memory).
struct censored_row {
  double residual = 0;  ///< in the unit of the readings
  double weight = 0;    ///< of a measured reading's, 0 .. 1

  /// @param margin  prediction's distance from the end, above 0 where it lies beyond it, as the reading says.
  /// @param noise   standard deviation of a reading.
  /// @return        for a reading that must lie at or beyond the end in the direction of positive margin.
  [[nodiscard]] static censored_row at_end(double margin, double noise) noexcept {
    const double z = margin / noise, h = inverse_mills_ratio(z);
    const double sum = h + z;
    if (!(h > 0) || !(sum > 0)) return {0, 0};
    return {noise / sum, h * sum};
  }
};

}  // namespace fettle::detail

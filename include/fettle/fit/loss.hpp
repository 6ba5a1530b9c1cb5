// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <vector>

namespace fettle {

/// How a large residual counts: fully, linearly beyond a bound (Huber), or not at all (Tukey's biweight).
enum class loss { squares, huber, tukey };

/// Weight of a residual in units of the scale, 0 to 1. Tuning constants give 95 % efficiency on normal noise.
///
/// Source: P. J. Huber, Ann. Math. Statist. 35 (1964) 73-101, doi:10.1214/aoms/1177703732; A. E. Beaton, J. W. Tukey,
///         Technometrics 16 (1974) 147-185, doi:10.1080/00401706.1974.10489171; constants 1.345 and 4.685: common
///         practice.
[[nodiscard]] inline double robust_weight(loss loss, double standardised) noexcept {
  const double size = std::abs(standardised);
  if (loss == loss::huber) return size <= 1.345 ? 1.0 : 1.345 / size;
  if (loss == loss::tukey) {
    const double inside = 1 - (size / 4.685) * (size / 4.685);
    return inside > 0 ? inside * inside : 0.0;
  }
  return 1.0;
}

/// Derivative of weight * residual by the residual, from the weight.
[[nodiscard]] inline double robust_slope(loss loss, double weight) noexcept {
  if (loss == loss::huber) return weight < 1 ? 0.0 : 1.0;
  if (loss == loss::tukey) return std::sqrt(weight) * (5 * std::sqrt(weight) - 4);
  return 1.0;
}

/// Factor on the standard errors of a robust fit: the sum of its weights over the sum of its slopes, about 1.2 for
/// Tukey on normal noise, 1 for squares. The normal equations contain the weights where the covariance of an M-estimate
/// has the slopes. At most 2: beyond that the residuals are not noise around a fit.
///
/// Source: P. J. Huber, Ann. Statist. 1 (1973) 799-821, for the covariance of an M-estimate (from memory).
class robust_growth {
 public:
  explicit robust_growth(loss loss) : loss_{loss} {}
  void add(double weight) noexcept {
    weights_ += weight;
    slopes_ += robust_slope(loss_, weight);
  }
  /// Adds what another part of the samples has added up.
  void merge(const robust_growth& other) noexcept {
    weights_ += other.weights_;
    slopes_ += other.slopes_;
  }
  [[nodiscard]] double value() const noexcept {
    return weights_ > 0 ? weights_ / (std::max)(slopes_, weights_ / 2) : 1;
  }

 private:
  loss loss_;
  double weights_ = 0, slopes_ = 0;
};

/// Median absolute deviation from zero, scaled to the standard deviation of normal noise; 0 of no residuals.
///
/// Source: F. R. Hampel, "The influence curve and its role in robust estimation", J. Am. Stat. Assoc. 69 (1974) 383-393
///         (from memory); the factor is 1 / 0.67449, the third quartile of the normal distribution.
[[nodiscard]] inline double median_scale(std::vector<double> sizes) {
  if (sizes.empty()) return 0;
  const auto middle = sizes.begin() + static_cast<std::ptrdiff_t>(sizes.size() / 2);
  std::nth_element(sizes.begin(), middle, sizes.end());
  return 1.482602218505602 * *middle;  // 1 / normal quantile of 3/4
}

}  // namespace fettle

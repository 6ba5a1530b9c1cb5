// SPDX-License-Identifier: MIT
#pragma once

#include <Eigen/Core>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <utility>
#include <vector>

namespace compare_pulls {

/// How residuals are corrected for having taken part in the fit: a cluster pulls the fit towards its own rows.
enum class adjustment : std::uint8_t {
  cr0,  ///< no correction
  cr2,  ///< (I - H)^(-1/2): unbiased when errors are as assumed
  cr3,  ///< (I - H)^(-1): as if each cluster were left out: conservative
};

/// A value, its standard error, and the degrees of freedom of that standard error.
struct estimate {
  double value = 0, standard_error = 0, freedom = 0;

  /// Half the width of the two-sided interval that holds with this probability.
  [[nodiscard]] double half_width(double probability = 0.95) const;
  [[nodiscard]] double low() const { return value - half_width(); }
  [[nodiscard]] double high() const { return value + half_width(); }
  [[nodiscard]] bool is_shown() const { return std::abs(value) > half_width(); }
};

/// Adds a further, independent error to an estimate, with Satterthwaite's degrees of freedom.
///
/// @param known  a variance that is given, not estimated.
/// Source: F. E. Satterthwaite, Biometrics Bull. 2 (1946) 110-114, doi:10.2307/3002019.
[[nodiscard]] inline estimate with_variance(const estimate& a, double known) {
  const double mine = a.standard_error * a.standard_error, sum = mine + known;
  return {a.value, std::sqrt(sum), mine > 0 ? a.freedom * (sum / mine) * (sum / mine) : 1e6};
}
[[nodiscard]] inline estimate with_variance(const estimate& a, const estimate& error) {
  const double x = a.standard_error * a.standard_error, y = error.standard_error * error.standard_error;
  if (!(y > 0)) return a;
  return {a.value, std::sqrt(x + y), (x + y) * (x + y) / (x * x / a.freedom + y * y / error.freedom)};
}

/// Penalised least squares with standard errors from the differences between clusters of rows: within a cluster, errors
/// may be correlated in any way.
///
/// Source: R. M. Bell, D. F. McCaffrey, "Bias reduction in standard errors for linear regression with multi-stage
///         samples", Survey Methodology 28 (2002) 169-181, for CR2 and its degrees of freedom, (tr G)^2/tr(G^2) of the
///         quadratic form in independent errors (from memory).
class clustered_fit {
 public:
  /// @param x, y     rows, whitened; p columns.
  /// @param cluster  the rows of each cluster: first, count.
  /// @param penalty  p x p, added to x'x.
  clustered_fit(Eigen::MatrixXd x, Eigen::VectorXd y, std::vector<std::pair<Eigen::Index, Eigen::Index>> cluster,
                const Eigen::MatrixXd& penalty, adjustment how = adjustment::cr2);

  [[nodiscard]] const Eigen::VectorXd& value() const noexcept { return value_; }
  /// The change of the values per unit of each further right-hand side: p x number of sides.
  [[nodiscard]] Eigen::MatrixXd solve(const Eigen::MatrixXd& values) const;

  /// A weighted sum of the values.
  [[nodiscard]] estimate operator()(const Eigen::VectorXd& weights) const;

 private:
  /// (I - H)^power = I + basis (change) basis' on the columns that the cluster has.
  struct cluster_part {
    Eigen::MatrixXd basis, change;
  };

  void prepare(Eigen::Index first, Eigen::Index count);

  Eigen::MatrixXd x_;
  Eigen::VectorXd y_, value_, residual_;
  std::vector<std::pair<Eigen::Index, Eigen::Index>> cluster_;
  adjustment how_;
  Eigen::MatrixXd gram_, inverse_;
  std::vector<cluster_part> part_;
};

}  // namespace compare_pulls

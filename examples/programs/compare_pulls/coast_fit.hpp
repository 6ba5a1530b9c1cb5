// SPDX-License-Identifier: MIT
#pragma once

#include <Eigen/Core>
#include <optional>
#include <vector>

#include "compare_pulls/clustered.hpp"
#include "compare_pulls/pull.hpp"
#include "compare_pulls/settings.hpp"

namespace compare_pulls {

/// Road load from coast-downs: A, B, C with their errors, which are correlated.
class coast_fit {
 public:
  /// Fits all runs together; the runs are the clusters. Where each says which way it went, a steady wind is fitted with
  /// them: to first order it adds a force in proportion to speed the one way and takes it off the other.
  ///
  /// Errors: `fettle::error` for fewer than three runs: three coefficients and their errors need as many.
  coast_fit(const settings& settings, const std::vector<coast_down>& runs);

  [[nodiscard]] fettle::road_load<double> load() const {
    return {fit_->value()[0], fit_->value()[1], fit_->value()[2]};
  }
  /// Any weighted sum of A, B, C: the force at v has the weights 1, v, v^2.
  [[nodiscard]] estimate operator()(const Eigen::Vector3d& weights) const;
  [[nodiscard]] estimate force_n(double speed_mps) const { return (*this)({1, speed_mps, speed_mps * speed_mps}); }

 private:
  Eigen::Index unknowns_ = 3;
  std::optional<clustered_fit> fit_;
};

}  // namespace compare_pulls

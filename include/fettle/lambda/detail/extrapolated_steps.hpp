// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cstddef>
#include <vector>

namespace fettle::detail {

/// Steps of an iteration that converges slowly, lengthened where one follows the other and shortened where they turn
/// back: from two steps and the places they start from, a straight line leads to where none would be left.
///
/// Source: D. G. Anderson, "Iterative procedures for nonlinear integral equations", J. ACM 12 (1965) 547-560,
///         doi:10.1145/321296.321305 (from memory), with one step remembered.
class extrapolated_steps {
 public:
  /// @param at    where the iteration stands.
  /// @param step  what it would add there by itself.
  /// @param size  of each unknown, above zero: in these units steps are compared.
  /// @return      what to add instead; the first time the step itself.
  [[nodiscard]] std::vector<double> next(const std::vector<double>& at, const std::vector<double>& step,
                                         const std::vector<double>& size) {
    std::vector<double> result = step;
    if (!last_step_.empty()) {
      double along = 0, length = 0;
      for (std::size_t k = 0; k < step.size(); ++k) {
        const double change = (step[k] - last_step_[k]) / size[k];
        along += step[k] / size[k] * change;
        length += change * change;
      }
      const double back = length > 0 ? std::clamp(along / length, -farthest_on, farthest_back) : 0;
      for (std::size_t k = 0; k < step.size(); ++k) result[k] -= back * (at[k] - last_at_[k] + step[k] - last_step_[k]);
    }
    last_at_ = at;
    last_step_ = step;
    return result;
  }

  /// After the iteration itself has changed: what it did before says nothing.
  void forget() { last_step_.clear(); }

 private:
  static constexpr double farthest_on = 3;      // steps shrink by a quarter each: four times as long
  static constexpr double farthest_back = 0.8;  // steps turn round and grow fourfold: a fifth as long

  std::vector<double> last_at_, last_step_;
};

}  // namespace fettle::detail

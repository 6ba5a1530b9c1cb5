// SPDX-License-Identifier: MIT
#include "compare_pulls/pulls_needed.hpp"

#include <algorithm>
#include <array>
#include <boost/math/distributions/chi_squared.hpp>
#include <cmath>

#include "common/statistics/student_t.hpp"

namespace compare_pulls {
namespace {

/// chi^2 of so many degrees of freedom over their number, in the middle of 30 parts of equal probability.
std::array<double, 30> spread_of_variance(double freedom) {
  std::array<double, 30> result;
  const boost::math::chi_squared squares(freedom);
  for (std::size_t i = 0; i < result.size(); ++i)
    result[i] =
        boost::math::quantile(squares, (static_cast<double>(i) + 0.5) / static_cast<double>(result.size())) / freedom;
  return result;
}

/// Student's 97.5 % point at so many degrees of freedom or more: exact at the nodes, straight over 1/freedom between
/// them, within 0.002 of the quantile.
class student_limits {
 public:
  explicit student_limits(double least_freedom) : step_{1 / (least_freedom * (nodes - 1))} {
    for (std::size_t i = 0; i < nodes; ++i)
      node_[i] = statistics::student_t(0.975, (std::min)(1e6, 1 / (step_ * static_cast<double>(i))));
  }
  [[nodiscard]] double operator()(double freedom) const {
    const double at = 1 / (freedom * step_);
    const auto i = (std::min)(static_cast<std::size_t>(at), std::size_t{nodes} - 2);
    return node_[i] + (at - static_cast<double>(i)) * (node_[i + 1] - node_[i]);
  }

 private:
  static constexpr int nodes = 25;
  std::array<double, nodes> node_{};
  double step_;
};

}  // namespace

double chance_shown(const scatter& known_scatter, double gain, std::size_t n, double known) {
  const double freedom = 2 * static_cast<double>(n) - 2;
  const auto past = spread_of_variance(known_scatter.freedom), coming = spread_of_variance(freedom);
  const student_limits limit(freedom);
  double sum = 0;
  for (const double past_ratio : past) {
    const double actual = known_scatter.deviation * known_scatter.deviation / past_ratio * 2 / static_cast<double>(n);
    for (const double coming_ratio : coming) {
      const double estimated = actual * coming_ratio, whole = estimated + known;
      const double width = limit(freedom * (whole / estimated) * (whole / estimated)) * std::sqrt(whole);
      sum += 0.5 * std::erfc((width - gain) / std::sqrt(2 * (actual + known)));
    }
  }
  return sum / static_cast<double>(past.size() * coming.size());
}

std::size_t units_needed(const scatter& of_unit, double gain, double known) {
  if (!(of_unit.deviation > 0 && of_unit.freedom > 0)) return 0;
  std::size_t below = 1, enough = 2;
  while (chance_shown(of_unit, gain, enough, known) < 0.95) {
    below = enough;
    enough *= 2;
    if (below > 500) return 0;
  }
  while (enough - below > 1) {
    const std::size_t middle = (enough + below) / 2;
    (chance_shown(of_unit, gain, middle, known) < 0.95 ? below : enough) = middle;
  }
  return enough <= 500 ? enough : 0;
}

}  // namespace compare_pulls

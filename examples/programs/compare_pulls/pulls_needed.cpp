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

}  // namespace

double chance_shown(const scatter& known_scatter, double gain, std::size_t n, double known) {
  const double freedom = 2 * static_cast<double>(n) - 2;
  const auto past = spread_of_variance(known_scatter.freedom), coming = spread_of_variance(freedom);
  double sum = 0;
  for (const double had : past) {
    const double truly = known_scatter.deviation * known_scatter.deviation / had * 2 / static_cast<double>(n);
    for (const double seen : coming) {
      const double estimated = truly * seen, whole = estimated + known;
      const double raised = std::min(1e4, freedom * (whole / estimated) * (whole / estimated));
      const double limit = known > 0 ? statistics::student_t(0.975, raised) : statistics::student_t(0.975, freedom);
      const double shift = (gain - limit * std::sqrt(whole)) / std::sqrt(truly + known);
      sum += 0.5 * std::erfc(-shift / std::sqrt(2.0));
    }
  }
  return sum / static_cast<double>(past.size() * coming.size());
}

std::size_t units_needed(const scatter& of, double gain, double known) {
  if (!(of.deviation > 0 && of.freedom > 0)) return 0;
  std::size_t below = 1, enough = 2;
  while (chance_shown(of, gain, enough, known) < 0.95) {
    below = enough;
    enough *= 2;
    if (below > 500) return 0;
  }
  while (enough - below > 1) {
    const std::size_t middle = (enough + below) / 2;
    (chance_shown(of, gain, middle, known) < 0.95 ? below : enough) = middle;
  }
  return enough <= 500 ? enough : 0;
}

}  // namespace compare_pulls

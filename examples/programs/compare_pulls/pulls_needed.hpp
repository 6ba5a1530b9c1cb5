// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>
#include <cstddef>

namespace compare_pulls {

/// What is known of the scatter of one unit: a pull, or the mean of a set of pulls.
struct scatter {
  double deviation = 0;  ///< standard deviation of the relative torque of one unit
  double freedom = 0;    ///< of that estimate
};

namespace detail {

/// chi^2 of so many degrees of freedom over their number, in the middle of 30 parts of equal probability.
[[nodiscard]] inline std::array<double, 30> spread_of_variance(double freedom) {
  std::array<double, 30> result;
  const boost::math::chi_squared squares(freedom);
  for (std::size_t i = 0; i < result.size(); ++i)
    result[i] =
        boost::math::quantile(squares, (static_cast<double>(i) + 0.5) / static_cast<double>(result.size())) / freedom;
  return result;
}

}  // namespace detail

/// Chance that n units before and n after show a true gain by their 95 % interval, given what is known of the scatter.
///
/// The scatter is itself uncertain: the chance is the mean over what it may be, its variance s^2 f/chi^2 with f degrees
/// of freedom, and over what the new units will make of it. Both kinds are taken to scatter alike.
/// @param known  variance of the difference that more units do not lower.
/// Source: the mean over the scatter is the "assurance" of A. O'Hagan, J. W. Stevens, M. J. Campbell, Pharm. Stat. 4
///         (2005) 187-201, doi:10.1002/pst.175 (from memory), with the usual prior 1/s.
[[nodiscard]] inline double chance_shown(const scatter& known_scatter, double gain, std::size_t n, double known = 0) {
  const double freedom = 2 * static_cast<double>(n) - 2;
  const auto past = detail::spread_of_variance(known_scatter.freedom), coming = detail::spread_of_variance(freedom);
  double sum = 0;
  for (const double had : past) {
    const double truly = known_scatter.deviation * known_scatter.deviation / had * 2 / static_cast<double>(n);
    for (const double seen : coming) {
      const double estimated = truly * seen, whole = estimated + known;
      const double raised = std::min(1e4, freedom * (whole / estimated) * (whole / estimated));
      const double limit = known > 0 ? boost::math::quantile(boost::math::students_t(raised), 0.975)
                                     : boost::math::quantile(boost::math::students_t(freedom), 0.975);
      const double shift = (gain - limit * std::sqrt(whole)) / std::sqrt(truly + known);
      sum += 0.5 * std::erfc(-shift / std::sqrt(2.0));
    }
  }
  return sum / static_cast<double>(past.size() * coming.size());
}

/// Units before and as many after that show a gain with a chance of 95 %; 0 if more than 500 would be needed.
///
[[nodiscard]] inline std::size_t units_needed(const scatter& of, double gain, double known = 0) {
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

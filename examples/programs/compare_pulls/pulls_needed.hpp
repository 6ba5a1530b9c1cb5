// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>

namespace compare_pulls {

/// The scatter of one unit: a pull, or the mean of a set of pulls.
struct scatter {
  double deviation = 0;  ///< standard deviation of the relative torque of one unit
  double freedom = 0;    ///< of that estimate
};

/// Probability that n units before and n after show a true gain by their 95 % interval.
///
/// The scatter is itself uncertain. The probability is the mean over its possible values, variance s^2 f/chi^2 with f
/// degrees of freedom, and over the estimates that the new units will give of it. Before and after are taken to scatter
/// equally.
/// @param known  variance of the difference that more units do not lower.
/// Source: the mean over the scatter is the "assurance" of A. O'Hagan, J. W. Stevens, M. J. Campbell, Pharm. Stat. 4
///         (2005) 187-201, doi:10.1002/pst.175 (from memory), with the usual prior 1/s.
[[nodiscard]] double chance_shown(const scatter& known_scatter, double gain, std::size_t n, double known = 0);

/// Units before and as many after that show a gain with 95 % probability; 0 if more than 500 would be needed.
[[nodiscard]] std::size_t units_needed(const scatter& of_unit, double gain, double known = 0);

}  // namespace compare_pulls

// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>

namespace report {

/// A value as a file holds it, with so many decimals.
[[nodiscard]] inline double rounded(double value, int decimals) {
  const double power = std::pow(10.0, decimals);
  return std::nearbyint(value * power) / power;
}

}  // namespace report

// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <vector>

#include "fettle/fit/loss.hpp"

namespace fettle::detail {

/// How far the readings of one place of operation are from the model, and how many there are.
///
/// Few readings say little of their own spread: both scales are shrunk towards nothing, and the noise of the sensor
/// takes over. From round to round they follow the residuals slowly, so that a search over weights can settle.
struct residual_scale {
  double scale = 0;   ///< about zero
  double spread = 0;  ///< about their median
  double centre = 0;  ///< median
  double rows = 0;

  /// @param residuals  reordered.
  /// @param slowly     whether what is known already counts.
  void follow(std::vector<float>& residuals, bool slowly) {
    rows = static_cast<double>(residuals.size());
    if (residuals.empty()) {
      scale = spread = centre = 0;
      return;
    }
    const auto middle = residuals.begin() + static_cast<std::ptrdiff_t>(residuals.size() / 2);
    std::nth_element(residuals.begin(), middle, residuals.end());
    centre = static_cast<double>(*middle);
    std::vector<double> about_zero, about_centre;
    for (const float x : residuals) {
      about_zero.push_back(std::abs(static_cast<double>(x)));
      about_centre.push_back(std::abs(static_cast<double>(x) - centre));
    }
    const double trusted = rows / (rows + few);
    const auto step = [&](double& now, double next) { now += (slowly && now > 0 ? pace : 1.0) * (next - now); };
    step(scale, trusted * median_scale(std::move(about_zero)));
    step(spread, trusted * median_scale(std::move(about_centre)));
  }

  static constexpr double few = 200;   // readings that know their own spread to a few percent
  static constexpr double pace = 0.3;  // of the way, in one round
};

}  // namespace fettle::detail

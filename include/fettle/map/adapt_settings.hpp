// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>
#include <limits>

namespace fettle {

/// How fast a map may learn.
template <std::floating_point T>
struct adapt_settings {
  T noise_variance{1};                              ///< of one measurement, map unit squared, > 0
  T forgetting{1};                                  ///< 0 < f <= 1: old evidence fades by this factor per sample
  T drift_variance{0};                              ///< that a cell may gain per sample, map unit squared (Kalman form)
  T variance_cap{(std::numeric_limits<T>::max)()};  ///< neither of the two lifts a cell's variance above this
};

}  // namespace fettle

// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <utility>

#include "fettle/lambda/exhaust_path.hpp"

namespace fettle::detail {

/// Steps of a first-order lag: the same comes again and again, so its exponentials are worked out once.
class lag_clock {
 public:
  explicit lag_clock(double lag_s) : lag_s_{lag_s} {}
  const lag_step& over(double step_s) {
    if (!(std::abs(step_s - last_s_) <= 1e-9 * step_s)) {
      last_s_ = step_s;
      step_ = lag_step::over(step_s, lag_s_);
    }
    return step_;
  }

 private:
  double lag_s_, last_s_ = -1;
  lag_step step_;
};

/// A first-order lag at work.
class lagged {
 public:
  lagged(double start, double lag_s) : clock_{lag_s}, input_{start}, value_{start} {}
  [[nodiscard]] double value() const noexcept { return value_; }
  double advance(double step_s, double input) {
    value_ = clock_.over(step_s).advance(value_, std::exchange(input_, input), input);
    return value_;
  }

 private:
  lag_clock clock_;
  double input_, value_;
};

}  // namespace fettle::detail

// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>

#include "virtual_engine/engine.hpp"

namespace virtual_engine {

/// The fuel on one cylinder's wall that one bank put there: dM/dt = share q - M / time, q the injected flow.
///
/// Exact for a flow that is constant within the step; what goes in comes out or stays on the wall, to rounding.
class wall {
 public:
  wall(wall_film film, double step_ms)
      : film_{film}, step_ms_{step_ms}, keep_{std::exp(-step_ms / (film.time_s * 1000))} {}

  /// The film's share and time from now on.
  void change(const wall_film& film) {
    film_ = film;
    keep_ = std::exp(-step_ms_ / (film.time_s * 1000));
  }

  /// Starts with the film that a steady flow leaves.
  void settle(double flow_mg_ms) { mass_mg_ = film_.share * flow_mg_ms * film_.time_s * 1000; }

  /// One step of injection; returns the flow that reaches the cylinder, mean of the step, in mg/ms.
  double step(double flow_mg_ms) {
    const double settled = film_.share * flow_mg_ms * film_.time_s * 1000;
    const double after = settled + keep_ * (mass_mg_ - settled);
    const double reaches = flow_mg_ms - (after - mass_mg_) / step_ms_;
    mass_mg_ = after;
    return reaches;
  }

  [[nodiscard]] double mass_mg() const { return mass_mg_; }

 private:
  wall_film film_;
  double step_ms_, keep_, mass_mg_ = 0;
};

}  // namespace virtual_engine

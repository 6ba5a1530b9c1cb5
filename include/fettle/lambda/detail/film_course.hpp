// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cmath>
#include <cstddef>
#include <utility>
#include <vector>

#include "fettle/lambda/detail/lagged.hpp"
#include "fettle/lambda/detail/map_places.hpp"
#include "fettle/lambda/dynamics.hpp"
#include "fettle/lambda/exhaust_path.hpp"

namespace fettle::detail {

/// The wall film of one bank over a log, its time following the engine over the map.
///
/// What leaves the wall is the mass there over the time, so a film whose time changes loses no fuel.
/// Source: the film as in C. F. Aquino, SAE 810494 (1981), doi:10.4271/810494; that share and time vary with load and
///         speed, E. Hendricks, T. Vesterholm, S. C. Sorenson, SAE 920237 (1992), doi:10.4271/920237 (both from memory).
class film_course {
 public:
  /// @param flow  fuel of the bank at each row, per unit of time.
  film_course(const bank_parameters& bank, const std::vector<double>& time_s, const std::vector<double>& flow,
              const map_places& places)
      : onto_(flow.size()), from_wall_(flow.size()), step_(flow.size()) {
    const std::array<double, 2> trend{std::log(bank.film_time_trend[0].value), std::log(bank.film_time_trend[1].value)};
    const bool is_constant = trend[0] == 0 && trend[1] == 0;
    const auto film_time_s = [&](std::size_t i) {
      return bank.film_time_s.value * std::exp(trend[0] * places[0][i] + trend[1] * places[1][i]);
    };
    lag_clock clock(bank.film_time_s.value);
    double before_s = flow.empty() ? 0 : film_time_s(0);
    for (std::size_t i = 0; i < flow.size(); ++i) {
      onto_[i] = bank.film_share.value * flow[i];
      if (i == 0) from_wall_[i] = onto_[i];
      if (i == 0 || (onto_[i] == 0 && onto_[i - 1] == 0 && from_wall_[i - 1] < dry)) continue;
      const double step_s = time_s[i] - time_s[i - 1];
      if (is_constant) {
        step_[i] = clock.over(step_s);
      } else {
        const double now_s = film_time_s(i);
        step_[i] = lag_step::over(step_s, now_s);
        step_[i].keep *= std::exchange(before_s, now_s) / now_s;
      }
      from_wall_[i] = step_[i].advance(from_wall_[i - 1], onto_[i - 1], onto_[i]);
    }
  }

  /// Fuel that reaches the cylinders at a row.
  [[nodiscard]] double delivered(std::size_t row, double flow) const { return flow - onto_[row] + from_wall_[row]; }

  /// Slopes of the fuel that reaches the cylinders in the logarithm of a film parameter.
  ///
  /// @param which  0 share, 1 time, 2 and 3 its trends along the axes.
  [[nodiscard]] std::vector<double> slope(std::size_t which, const map_places& places) const {
    std::vector<double> moved = which == 0 ? onto_ : from_wall_;
    for (std::size_t i = 0; which > 1 && i < moved.size(); ++i) moved[i] *= places[which - 2][i];
    double later = moved.empty() ? 0 : moved[0], before = later;
    for (std::size_t i = 0; i < moved.size(); ++i) {
      if (i > 0) later = step_[i].advance(later, before, moved[i]);
      before = std::exchange(moved[i], later - moved[i]);
    }
    return moved;
  }

 private:
  static constexpr double dry = 1e-6;  // mg * rpm, of some 1e5

  std::vector<double> onto_, from_wall_;  // fuel that lands on the wall and leaves it
  std::vector<lag_step> step_;            // of what leaves, to each row
};

}  // namespace fettle::detail

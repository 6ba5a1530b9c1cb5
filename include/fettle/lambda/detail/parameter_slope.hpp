// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <cstddef>
#include <vector>

#include "fettle/lambda/detail/channel.hpp"
#include "fettle/lambda/detail/estimate.hpp"
#include "fettle/lambda/dynamics.hpp"

namespace fettle::detail {

/// The parts of a parameter's place in the dynamics.
struct parameter_place {
  bool is_film = false, is_flow = false, is_gain = false, is_lag = false;
  std::size_t sensor = static_cast<std::size_t>(-1);  ///< owner; none: shared

  parameter_place(std::size_t place, std::size_t banks) {
    const std::size_t shared = 1 + 3 * banks;
    is_flow = place > 0 && place < shared && place % 3 == 0;
    is_film = place > 0 && place < shared && !is_flow;
    if (place < shared) return;
    sensor = (place - shared) / 4;
    is_lag = (place - shared) % 4 == 2;
    is_gain = (place - shared) % 4 == 3;
  }
};

/// Slopes of a channel's prediction in the logarithm of one parameter of the dynamics, by a difference; empty where
/// another sensor owns it.
///
/// @param place  of the parameter in `dynamics::for_each`.
[[nodiscard]] inline std::vector<float> parameter_slope(const channel& series, const dynamics& now, std::size_t place) {
  constexpr double step = 0.1;  // of the logarithm
  const parameter_place part(place, now.banks.size());
  if (part.sensor != static_cast<std::size_t>(-1) && part.sensor != series.sensor) return {};
  dynamics moved = now;
  parameter_at(moved, place).value *= std::exp(step);
  const bool is_formed_anew = part.is_film || part.is_flow;
  std::vector<double> phi = is_formed_anew ? series.model->uncorrected_phi(moved) : series.origin.uncorrected;
  for (std::size_t i = 0; i < phi.size(); ++i) phi[i] /= series.origin.correction[i];
  const auto there = series.model->arrived(
      phi,
      is_formed_anew || part.is_lag ? series.origin.from
                                    : series.model->injected(series.sensor, series.origin.correction, moved),
      part.is_lag ? moved.sensors[series.sensor].lag_s.value : series.origin.lag_s);
  std::vector<float> result(there.size());
  for (std::size_t i = 0; i < there.size(); ++i)
    result[i] = series.kind[i] == evidence_kind::none || !(there[i] > 0)
                    ? 0.0F
                    : static_cast<float>(std::log(there[i] / series.reading[i]) / step);
  return result;
}

}  // namespace fettle::detail

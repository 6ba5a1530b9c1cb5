// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <cstddef>
#include <optional>
#include <vector>

#include "fettle/lambda/detail/channel.hpp"
#include "fettle/lambda/detail/estimate.hpp"
#include "fettle/lambda/detail/film_course.hpp"
#include "fettle/lambda/dynamics.hpp"

namespace fettle::detail {

/// The parts of a parameter's place in the dynamics.
struct parameter_place {
  bool is_film = false, is_trend = false, is_flow = false, is_gain = false, is_lag = false, is_delay = false;
  std::size_t bank = 0, film = 0;                     ///< of a film parameter: its bank, and which of the four it is
  std::size_t sensor = static_cast<std::size_t>(-1);  ///< owner; none: shared

  parameter_place(std::size_t place, std::size_t banks) {
    constexpr std::size_t per_bank = 5;
    const std::size_t shared = 1 + per_bank * banks;
    is_delay = place == 0;
    if (is_delay) return;
    if (place < shared) {
      const std::size_t own = (place - 1) % per_bank;
      bank = (place - 1) / per_bank;
      is_flow = own == 2;
      is_film = !is_flow;
      is_trend = own > 2;
      film = is_trend ? own - 1 : own;
      return;
    }
    sensor = (place - shared) / 4;
    is_delay = (place - shared) % 4 < 2;
    is_lag = (place - shared) % 4 == 2;
    is_gain = (place - shared) % 4 == 3;
  }
};

/// Slopes of a channel's prediction in the logarithms of parameters of the dynamics, one after the other.
class parameter_slopes {
 public:
  parameter_slopes(const channel& series, const dynamics& now) : series_{series}, now_{now}, films_(now.banks.size()) {}

  /// @param place  of the parameter in `dynamics::for_each`.
  /// @return  one slope a row; none where another sensor owns the parameter.
  [[nodiscard]] std::vector<float> in(std::size_t place) {
    const parameter_place part(place, now_.banks.size());
    if (part.sensor != static_cast<std::size_t>(-1) && part.sensor != series_.sensor) return {};
    return part.is_film ? in_film(part) : by_difference(part, place);
  }

 private:
  [[nodiscard]] std::vector<float> in_film(const parameter_place& part) {
    auto& film = films_[part.bank];
    if (!film) film = series_.model->film_of(part.bank, now_);
    const auto there = arrived(series_.model->film_slope(*film, part.bank, part.film, now_), series_.origin.from,
                               series_.origin.lag_s);
    return over_rows([&](std::size_t i) { return there[i] / series_.reading[i]; });
  }

  // To both sides, some way off: a delay moves readings from row to row, and the slope at one place is rough.
  [[nodiscard]] std::vector<float> by_difference(const parameter_place& part, std::size_t place) const {
    constexpr double step = 0.1;  // of the logarithm
    const auto above = moved(part, place, step), below = moved(part, place, -step);
    return over_rows([&](std::size_t i) { return (above[i] - below[i]) / (2 * step * series_.reading[i]); });
  }

  [[nodiscard]] std::vector<double> moved(const parameter_place& part, std::size_t place, double by) const {
    dynamics with = now_;
    parameter_at(with, place).value *= std::exp(by);
    return arrived(
        part.is_flow ? series_.model->uncorrected_phi(with) : series_.origin.uncorrected,
        part.is_delay ? series_.model->injected(series_.sensor, series_.origin.correction, with) : series_.origin.from,
        part.is_lag ? with.sensors[series_.sensor].lag_s.value : series_.origin.lag_s);
  }

  // What is formed in the cylinders as the sensor shows it.
  [[nodiscard]] std::vector<double> arrived(std::vector<double> uncorrected, const std::vector<moment>& from,
                                            double lag_s) const {
    for (std::size_t i = 0; i < uncorrected.size(); ++i) uncorrected[i] /= series_.origin.correction[i];
    return series_.model->arrived(uncorrected, from, lag_s);
  }

  template <class Slope>
  [[nodiscard]] std::vector<float> over_rows(const Slope& slope) const {
    std::vector<float> result(series_.reading.size());
    for (std::size_t i = 0; i < result.size(); ++i)
      result[i] = series_.kind[i] == evidence_kind::none ? 0.0F : static_cast<float>(slope(i));
    return result;
  }

  const channel& series_;
  const dynamics& now_;
  std::vector<std::optional<film_course>> films_;  // per bank, once they are needed
};

}  // namespace fettle::detail

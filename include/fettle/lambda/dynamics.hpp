// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <string>
#include <vector>

#include "fettle/error.hpp"

namespace fettle {

/// A positive quantity and its prior, which a log may narrow.
struct parameter {
  std::string name{};
  double value = 1;
  double spread = 0;   ///< prior standard deviation of its natural logarithm; 0: known for certain
  double lowest = 0;   ///< never below
  double highest = 0;  ///< never above

  /// Held at a value.
  [[nodiscard]] static parameter held(std::string name, double value) {
    return {std::move(name), value, 0, value, value};
  }
  /// Held at a value that may be wrong by a spread: what follows from that is in the errors of all that is found.
  [[nodiscard]] static parameter uncertain(std::string name, double value, double spread) {
    return {std::move(name), value, spread, value, value};
  }
  [[nodiscard]] bool is_free() const noexcept { return spread > 0 && lowest < highest; }
  [[nodiscard]] bool is_uncertain() const noexcept { return spread > 0 && !(lowest < highest); }
};

/// A bank of injectors: the share of its fuel that lands on the wall, the time it takes to leave, and how much more it
/// delivers than its description says, as a factor.
///
/// The time is that in the middle of the map. Along each of the map's first two axes it changes in equal ratios: from the
/// middle to the highest breakpoint by the factor of its trend, and from the lowest to the middle by the same.
struct bank_parameters {
  parameter film_share, film_time_s;
  parameter flow = parameter::held("flow", 1);
  std::array<parameter, 2> film_time_trend{parameter::held("film time trend along axis 1", 1),
                                           parameter::held("film time trend along axis 2", 1)};
};

/// A sensor's way and reading. The gain multiplies phi.
struct sensor_parameters {
  parameter pipe_gas_mass_g, latency_s, lag_s, gain;
};

/// Everything between the fuel that was injected and the reading of each sensor.
struct dynamics {
  parameter revolutions;
  std::vector<bank_parameters> banks;
  std::vector<sensor_parameters> sensors;

  /// Calls use(parameter&) on every parameter, in a fixed order.
  template <class Self, class Use>
  static void for_each(Self& self, Use&& use) {
    use(self.revolutions);
    for (auto& bank : self.banks) {
      use(bank.film_share), use(bank.film_time_s), use(bank.flow);
      for (auto& trend : bank.film_time_trend) use(trend);
    }
    for (auto& sensor : self.sensors)
      use(sensor.pipe_gas_mass_g), use(sensor.latency_s), use(sensor.lag_s), use(sensor.gain);
  }

  /// Errors: `fettle::error` naming the parameter that is not finite, or outside its bounds.
  void check() const {
    for_each(*this, [](const parameter& quantity) {
      const bool sound = quantity.value >= quantity.lowest && quantity.value <= quantity.highest &&
                         quantity.lowest >= 0 && quantity.highest < 1e9 && (!quantity.is_free() || quantity.lowest > 0);
      if (!sound)
        throw error("dynamics: " + quantity.name + " is " + std::to_string(quantity.value) +
                    "; it must lie between its bounds " + std::to_string(quantity.lowest) + " and " +
                    std::to_string(quantity.highest));
    });
    for (const auto& bank : banks)
      if (bank.film_share.highest >= 1) throw error("dynamics: " + bank.film_share.name + " must stay below 1");
  }
};

}  // namespace fettle

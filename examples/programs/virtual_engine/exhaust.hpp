// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <vector>

#include "virtual_engine/engine.hpp"

namespace virtual_engine {

/// The burnt gas on its way: what was made at which crank angle, and how much gas was made before it.
///
/// Plug flow: a packet reaches the exhaust valve `revolutions` of the crank after its injection and a sensor once the
/// gas mass of the pipe has followed it out of the valve. Both are counted up, so changes of speed or flow while a
/// packet is under way are exact. Where pipes are unequal, what each holds delays its own cylinder's gas on its way to
/// the collector.
class exhaust {
 public:
  /// @param pipe_excess  gas between each exhaust valve and the collector's sensor, over the mean, less 1.
  explicit exhaust(double revolutions, const per_cylinder& pipe_excess = {})
      : revolutions_{revolutions},
        pipe_excess_{pipe_excess},
        pipes_are_equal_{pipe_excess == per_cylinder{}},
        packets_(capacity) {}

  /// Adds what is made in one step.
  ///
  /// @param turned   revolutions of the crank in this step.
  /// @param air_mg   air of each cylinder in this step.
  /// @param fuel_mg  fuel of each cylinder in this step.
  /// @param seen     share of each cylinder's fuel that sensors see: less than 1 where it did not burn.
  void add(double turned, const per_cylinder& air_mg, const per_cylinder& fuel_mg, double stoichiometric_afr,
           const per_cylinder& seen = all_seen) {
    afr_ = stoichiometric_afr;
    packet made{.revolutions = newest().revolutions + turned, .gas_g = newest().gas_g, .phi = {}};
    double air = 0, fuel = 0, seen_fuel = 0;
    for (std::size_t i = 0; i < cylinders; ++i) {
      air += air_mg[i];
      fuel += fuel_mg[i];
      seen_fuel += fuel_mg[i] * seen[i];
      made.gas_g[i + 1] += (air_mg[i] + fuel_mg[i]) / 1000;
      made.phi[i + 1] = stoichiometric_afr * (fuel_mg[i] * seen[i]) / air_mg[i];
    }
    made.gas_g[0] += (air + fuel) / 1000;
    made.phi[0] = stoichiometric_afr * seen_fuel / air;  // the air-weighted mean of the cylinders' phi
    if (count_ == 0) packets_[0].phi = made.phi;         // before the first packet there was more of the same
    packets_[++count_ % capacity] = made;

    const double leaving = made.revolutions - revolutions_;
    valve_ = std::max(valve_, oldest());
    while (valve_ + 1 < count_ && at(valve_ + 1).revolutions <= leaving) ++valve_;
    const packet &low = at(valve_), &high = at(valve_ + 1);
    valve_share_ = std::clamp((leaving - low.revolutions) / (high.revolutions - low.revolutions), 0.0, 1.0);
  }

  /// phi at a sensor now.
  ///
  /// @param sensor   its cylinder (0 = collector) and the gas mass of its pipe count.
  /// @param cursors  kept by the caller between steps: the packets found last.
  [[nodiscard]] double phi_at(const lambda_sensor& sensor, std::array<std::size_t, cylinders>& cursors) const {
    if (sensor.cylinder == 0 && !pipes_are_equal_) return phi_of_unequal_pipes(sensor.pipe_gas_mass_g, cursors);
    const arrival now = arriving(sensor.cylinder, sensor.pipe_gas_mass_g, cursors[0]);
    return mix(now.before->phi[sensor.cylinder], now.after->phi[sensor.cylinder], now.share);
  }

  /// Exhaust gas of the last step.
  [[nodiscard]] double gas_of_step_g() const { return newest().gas_g[0] - at(count_ - 1).gas_g[0]; }

  /// phi made in the last step; 0 = collector's mean, else the cylinder.
  [[nodiscard]] const std::array<double, cylinders + 1>& phi_made() const { return newest().phi; }

 private:
  static constexpr std::size_t capacity = 4096;  // steps of memory: four seconds, longer than any gas is under way
  struct packet {
    double revolutions = 0;                     // when its making ended
    std::array<double, cylinders + 1> gas_g{};  // all gas made until then
    std::array<double, cylinders + 1> phi{};
  };

  struct arrival {
    const packet *before, *after;
    double share;  // of the way between them
  };
  static constexpr per_cylinder all_seen{1, 1, 1, 1, 1};
  static_assert(cylinders == 5);

  // The packets that a pipe delivers now: those that so much gas has followed, counted as that of `where`.
  [[nodiscard]] arrival arriving(std::size_t where, double pipe_gas_mass_g, std::size_t& cursor) const {
    const double left_valve_g =
        mix(at(valve_).gas_g[where], at(valve_ + 1).gas_g[where], valve_share_) - pipe_gas_mass_g;
    cursor = std::max(cursor, oldest());
    while (cursor < valve_ && at(cursor + 1).gas_g[where] <= left_valve_g) ++cursor;
    const packet &low = at(cursor), &high = at(cursor + 1);
    const double share = (left_valve_g - low.gas_g[where]) / (high.gas_g[where] - low.gas_g[where]);
    return {&low, &high, std::clamp(share, 0.0, 1.0)};
  }

  // Each cylinder's gas of its own time, mixed by air. Of 1 g of gas, 1 / (1 + phi / afr) is air.
  [[nodiscard]] double phi_of_unequal_pipes(double pipe_gas_mass_g, std::array<std::size_t, cylinders>& cursors) const {
    double air = 0, fuel = 0;
    for (std::size_t i = 0; i < cylinders; ++i) {
      const arrival now = arriving(0, pipe_gas_mass_g * (1 + pipe_excess_[i]), cursors[i]);
      const double phi = mix(now.before->phi[i + 1], now.after->phi[i + 1], now.share);
      const double part =
          (now.after->gas_g[i + 1] - now.before->gas_g[i + 1]) / (now.after->gas_g[0] - now.before->gas_g[0]);
      air += part / (1 + phi / afr_);
      fuel += part * phi / (1 + phi / afr_);
    }
    return fuel / air;
  }

  [[nodiscard]] static double mix(double a, double b, double t) { return a + t * (b - a); }
  [[nodiscard]] const packet& at(std::size_t i) const { return packets_[i % capacity]; }
  [[nodiscard]] const packet& newest() const { return at(count_); }
  [[nodiscard]] std::size_t oldest() const { return count_ < capacity ? 0 : count_ - capacity + 1; }

  double revolutions_, afr_ = 0;
  per_cylinder pipe_excess_;
  bool pipes_are_equal_;
  std::vector<packet> packets_;
  std::size_t count_ = 0, valve_ = 0;
  double valve_share_ = 0;
};

/// A sensor at work: outside air drawn in, one or two first-order lags on phi, then a fixed latency.
class sensing {
 public:
  sensing(const lambda_sensor& what, double step_s)
      : what_{&what},
        step_s_{step_s},
        to_lean_{follow(what.lag_s * std::sqrt(what.lag_ratio), step_s)},
        to_rich_{follow(what.lag_s / std::sqrt(what.lag_ratio), step_s)},
        second_{follow(what.second_lag_s, step_s)},
        late_{what.latency_s / step_s + 1} {}  // a row shows the sensor as its step begins

  void step(const exhaust& gas) {
    double phi = gas.phi_at(*what_, cursors_);
    if (what_->air_drawn_in > 0)
      phi /= 1 + what_->air_drawn_in * std::exp(-gas.gas_of_step_g() / step_s_ / what_->air_drawn_in_flow_g_s);
    if (count_ == 0) past_.fill(first_ = phi);
    first_ += (phi < first_ ? to_lean_ : to_rich_) * (phi - first_);
    const double before = past_[count_ % past_.size()];
    past_[++count_ % past_.size()] = what_->second_lag_s > 0 ? before + second_ * (first_ - before) : first_;
  }

  /// phi as it leaves the sensor now, before gain, noise and rails.
  [[nodiscard]] double phi() const {
    const auto whole = static_cast<std::size_t>(late_);
    const double a = past_[(count_ - whole) % past_.size()], b = past_[(count_ - whole - 1) % past_.size()];
    return a + (late_ - static_cast<double>(whole)) * (b - a);
  }

  /// One reading in lambda, with everything that is wrong with it.
  [[nodiscard]] double lambda(dice* noise) const {
    const double true_lambda = 1 / std::max(phi() * what_->gain, 1e-3);
    double reading = true_lambda;
    if (noise != nullptr) {
      reading *= 1 + what_->noise * noise->normal();
      if (noise->happens(what_->spikes))
        reading *= noise->happens(0.5) ? noise->uniform(0.6, 0.9) : noise->uniform(1.1, 1.5);
    }
    return std::clamp(reading, what_->lowest, what_->highest);
  }

 private:
  [[nodiscard]] static double follow(double lag_s, double step_s) {
    return lag_s > 0 ? 1 - std::exp(-step_s / lag_s) : 1;
  }

  const lambda_sensor* what_;
  double step_s_, to_lean_, to_rich_, second_, late_, first_ = 0;
  std::array<double, 256> past_{};  // latency up to 254 steps
  std::array<std::size_t, cylinders> cursors_{};
  std::size_t count_ = 0;
};

}  // namespace virtual_engine

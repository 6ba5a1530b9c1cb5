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
/// packet is under way are exact.
class exhaust {
 public:
  explicit exhaust(double revolutions) : revolutions_{revolutions}, packets_(capacity) {}

  /// Adds what is made in one step.
  ///
  /// @param turned   revolutions of the crank in this step.
  /// @param air_mg   air of each cylinder in this step.
  /// @param fuel_mg  fuel of each cylinder in this step.
  void add(double turned, const per_cylinder& air_mg, const per_cylinder& fuel_mg, double stoichiometric_afr) {
    packet made{.revolutions = newest().revolutions + turned, .gas_g = newest().gas_g, .phi = {}};
    double air = 0, fuel = 0;
    for (std::size_t i = 0; i < cylinders; ++i) {
      air += air_mg[i];
      fuel += fuel_mg[i];
      made.gas_g[i + 1] += (air_mg[i] + fuel_mg[i]) / 1000;
      made.phi[i + 1] = stoichiometric_afr * fuel_mg[i] / air_mg[i];
    }
    made.gas_g[0] += (air + fuel) / 1000;
    made.phi[0] = stoichiometric_afr * fuel / air;  // the air-weighted mean of the cylinders' phi
    if (count_ == 0) packets_[0].phi = made.phi;    // before the first packet there was more of the same
    packets_[++count_ % capacity] = made;

    const double leaving = made.revolutions - revolutions_;
    valve_ = std::max(valve_, oldest());
    while (valve_ + 1 < count_ && at(valve_ + 1).revolutions <= leaving) ++valve_;
    const packet &low = at(valve_), &high = at(valve_ + 1);
    valve_share_ = std::clamp((leaving - low.revolutions) / (high.revolutions - low.revolutions), 0.0, 1.0);
  }

  /// phi at the end of a pipe now.
  ///
  /// @param where          0 = collector, else the cylinder.
  /// @param pipe_gas_mass  in g.
  /// @param cursor         kept by the caller between steps: the packet found last.
  [[nodiscard]] double phi_behind(std::size_t where, double pipe_gas_mass_g, std::size_t& cursor) const {
    const double left_valve_g =
        mix(at(valve_).gas_g[where], at(valve_ + 1).gas_g[where], valve_share_) - pipe_gas_mass_g;
    cursor = std::max(cursor, oldest());
    while (cursor < valve_ && at(cursor + 1).gas_g[where] <= left_valve_g) ++cursor;
    const packet &low = at(cursor), &high = at(cursor + 1);
    const double share = (left_valve_g - low.gas_g[where]) / (high.gas_g[where] - low.gas_g[where]);
    return mix(low.phi[where], high.phi[where], std::clamp(share, 0.0, 1.0));
  }

  /// phi made in the last step; 0 = collector's mean, else the cylinder.
  [[nodiscard]] const std::array<double, cylinders + 1>& phi_made() const { return newest().phi; }

 private:
  static constexpr std::size_t capacity = 4096;  // steps of memory: four seconds, longer than any gas is under way
  struct packet {
    double revolutions = 0;                     // when its making ended
    std::array<double, cylinders + 1> gas_g{};  // all gas made until then
    std::array<double, cylinders + 1> phi{};
  };

  [[nodiscard]] static double mix(double a, double b, double t) { return a + t * (b - a); }
  [[nodiscard]] const packet& at(std::size_t i) const { return packets_[i % capacity]; }
  [[nodiscard]] const packet& newest() const { return at(count_); }
  [[nodiscard]] std::size_t oldest() const { return count_ < capacity ? 0 : count_ - capacity + 1; }

  double revolutions_;
  std::vector<packet> packets_;
  std::size_t count_ = 0, valve_ = 0;
  double valve_share_ = 0;
};

/// A sensor at work: first-order lag on phi, then a fixed latency.
class sensing {
 public:
  sensing(const lambda_sensor& what, double step_s)
      : what_{&what},
        follow_{what.lag_s > 0 ? 1 - std::exp(-step_s / what.lag_s) : 1},
        late_{what.latency_s / step_s + 1} {}  // a row shows the sensor as its step begins

  void step(const exhaust& gas) {
    const double phi = gas.phi_behind(what_->cylinder, what_->pipe_gas_mass_g, cursor_);
    if (count_ == 0) past_.fill(phi);
    const double before = past_[count_ % past_.size()];
    past_[++count_ % past_.size()] = before + follow_ * (phi - before);
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
  const lambda_sensor* what_;
  double follow_, late_;
  std::array<double, 256> past_{};  // latency up to 254 steps
  std::size_t count_ = 0, cursor_ = 0;
};

}  // namespace virtual_engine

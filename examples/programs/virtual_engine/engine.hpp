// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <string>
#include <vector>

#include "fettle/map/interpolate.hpp"
#include "virtual_engine/dice.hpp"

namespace virtual_engine {

inline constexpr std::size_t cylinders = 5, banks = 2;
inline constexpr double displacement_l = 2.5, reference_kpa = 100, reference_degc = 25;
inline constexpr double full_charge_mg = 584.3;  ///< half a litre of air at reference conditions

/// One value per cylinder.
using per_cylinder = std::array<double, cylinders>;

/// Five numbers of mean zero whose largest is of the given size.
[[nodiscard]] per_cylinder centred(dice& draw, double largest) noexcept;

/// 0 below `from`, 1 above `to`, a cubic without corners between.
[[nodiscard]] inline double ramp(double x, double from, double to) noexcept {
  const double t = std::clamp((x - from) / (to - from), 0.0, 1.0);
  return t * t * (3 - 2 * t);
}

/// Fuel on the wall: `share` of what is injected lands there and leaves again with the time constant `time_s`.
///
/// Both hold at half a full charge and 5000 rpm; the slopes say how their logarithms change with charge and speed.
struct wall_film {
  double share = 0, time_s = 0.1;
  double share_by_charge = 0, share_by_speed = 0;  ///< from no charge to a full one; from 1000 to 9000 rpm
  double time_by_charge = 0, time_by_speed = 0;

  [[nodiscard]] bool varies() const noexcept {
    return share_by_charge != 0 || share_by_speed != 0 || time_by_charge != 0 || time_by_speed != 0;
  }

  /// The film at an operating point.
  ///
  /// @param charge  air of a cylinder over a full charge.
  [[nodiscard]] wall_film at(double charge, double rpm) const noexcept {
    const double more = charge - 0.5, faster = (rpm - 5000) / 8000;
    wall_film here = *this;
    here.share = std::min(share * std::exp(share_by_charge * more + share_by_speed * faster), 0.9);
    here.time_s = time_s * std::exp(time_by_charge * more + time_by_speed * faster);
    return here;
  }
};

/// One injector per cylinder, all alike.
struct injector_bank {
  static constexpr std::array<double, 5> battery_v{8, 10, 12, 14, 16};

  std::string name;
  double flow_mg_ms = 0;
  std::array<double, 5> dead_time_ms{};  ///< over battery_v
  double smallest_pulse_ms = 0;          ///< whole pulse, dead time included; below it the linear law fails
  double largest_duty = 0.85;
  wall_film film;

  [[nodiscard]] double dead_ms(double volts) const noexcept {
    return fettle::interpolate(
        fettle::map_view<1, double>{.axes = {{{battery_v.data(), battery_v.size()}}}, .values = dead_time_ms.data()},
        volts);
  }

  /// Mass of one pulse: linear above the smallest pulse, less than linear below it, nothing within the dead time.
  [[nodiscard]] double mass_mg(double pulse_ms, double volts) const noexcept {
    const double dead = dead_ms(volts), open = pulse_ms - dead;
    if (open <= 0) return 0;
    const double missing = std::max(0.0, 1 - open / (smallest_pulse_ms - dead));
    return flow_mg_ms * open * (1 - 0.4 * missing * missing);
  }

  /// The pulse that the linear law asks for.
  [[nodiscard]] double pulse_ms(double mass_mg, double volts) const noexcept {
    return mass_mg > 0 ? mass_mg / flow_mg_ms + dead_ms(volts) : 0;
  }
};

/// A lambda sensor: in one cylinder's pipe or, as cylinder 0, behind the collector.
struct lambda_sensor {
  std::string name, column;
  std::size_t cylinder = 0;    ///< 0 = collector, else 1 to 5
  double pipe_gas_mass_g = 0;  ///< between exhaust valve and sensor
  double lag_s = 0, latency_s = 0;
  double lag_ratio = 1;                 ///< lag toward lean over lag toward rich; `lag_s` is their geometric mean
  double second_lag_s = 0;              ///< of a second stage after the first; 0: none
  double gain = 1;                      ///< on phi; the collector sensor is the calibrated one, so its gain is 1
  double noise = 0.006;                 ///< relative standard deviation
  double spikes = 0.0005;               ///< probability that a sample is far off
  int rate_hz = 0;                      ///< 0 = sampled in every row
  double lowest = 0.65, highest = 1.6;  ///< rails
  double air_drawn_in = 0;              ///< outside air over the engine's air at the sensor as the flow nears zero
  double air_drawn_in_flow_g_s = 1;     ///< exhaust flow at which it has fallen to 1/e of that
};

/// Cycles whose fuel does not burn. Their oxygen reaches the sensor, which sees only a part of their fuel.
struct misfires {
  double always = 0;          ///< probability of a cycle at any charge
  double at_no_charge = 0;    ///< added to it at no charge, where much burnt gas stays in the cylinder
  double gone_by_charge = 1;  ///< charge over a full one from which nothing is added
  double unseen_fuel = 0;     ///< share of the unburnt fuel that a sensor does not see

  [[nodiscard]] double probability(double charge) const noexcept {
    return always + at_no_charge * (1 - ramp(charge, 0, gone_by_charge));
  }
};

/// The hidden truth: an invented five-cylinder, 2.5-litre hill-climb engine on individual throttle bodies.
///
/// `from_seed` draws one plausible engine per seed; every member may be changed afterwards.
class engine {
 public:
  [[nodiscard]] static engine from_seed(std::uint64_t seed);

  double stoichiometric_afr = 14.3, fuel_density_kg_m3 = 750, fuel_kpa = 350;
  std::array<injector_bank, banks> bank;            ///< primary: in the port; secondary: outside the trumpets
  double revolutions = 1.5;                         ///< of the crank, from injection until the exhaust valve opens
  std::array<lambda_sensor, cylinders + 1> sensor;  ///< collector first
  per_cylinder pipe_excess{};  ///< gas between each exhaust valve and the collector's sensor, over the mean, less 1
  misfires misfire;
  std::vector<std::string> physics;  ///< what `add_physics` has switched on
  double mixing_gain = 0.02;  ///< torque gained where the secondary bank has all the fuel, at speed and full throttle

  /// True air, mean of the cylinders.
  ///
  /// Unit: mg per cylinder per cycle at 100 kPa and 25 degC, from rpm and throttle in %.
  [[nodiscard]] double air_mg(double rpm, double throttle_pct) const noexcept {
    const double speed = rpm / 1000, open = throttle_pct / 100;
    const double flow = throat_ * (leak_ + open * (linear_ + (1 - linear_) * open)) / speed;
    const double filling = flow / std::pow(1 + std::pow(flow, knee_), 1 / knee_);
    double tuning = 0;
    for (const auto& wave : waves_) tuning += wave.height * bell(speed, wave.at, wave.width);
    return full_charge_mg * (0.82 + 0.25 * bell(speed, peak_, width_)) * filling * (1 + tuning * (0.3 + 0.7 * filling));
  }

  /// How density scales the air.
  [[nodiscard]] static double density(double kpa, double degc) noexcept {
    return (kpa / reference_kpa) * ((reference_degc + 273.15) / (degc + 273.15));
  }

  /// Air of each cylinder over the mean; the mean of the five is 1 at every speed.
  [[nodiscard]] per_cylinder air_factors(double rpm) const noexcept {
    const double wave = std::sin(rpm / 1000 * 1.1);
    per_cylinder result;
    for (std::size_t i = 0; i < cylinders; ++i) result[i] = 1 + offset_[i] + swing_[i] * wave;
    return result;
  }

  /// Fuel per cylinder and cycle, the same for all, that puts the collector on lambda 1 at reference conditions:
  /// the truth that a fuel map should hold.
  [[nodiscard]] double ideal_fuel_mg(double rpm, double throttle_pct) const noexcept {
    return air_mg(rpm, throttle_pct) / stoichiometric_afr;
  }

  /// Engine torque of one cycle in N m from the cylinders' air and phi and the secondary bank's share of the fuel.
  [[nodiscard]] double torque_nm(double rpm, double throttle_pct, const per_cylinder& cylinder_air_mg,
                                 const per_cylinder& phi, double secondary_share) const noexcept {
    double work = 0;
    for (std::size_t i = 0; i < cylinders; ++i) {
      if (phi[i] < 0.6) continue;  // too lean to burn
      const double off_best = 1 / phi[i] - 0.88;
      work += cylinder_air_mg[i] * (1 - 1.3 * off_best * off_best);
    }
    const double mixing = mixing_gain * secondary_share * ramp(rpm, 5000, 8500) * ramp(throttle_pct, 55, 95);
    const double friction = 12 + rpm * (0.8e-3 + rpm * 0.28e-6);
    return 0.089 * work * (1 + mixing) - friction;
  }

 private:
  struct tuning_wave {
    double at, width, height;  // in 1000 rpm
  };
  [[nodiscard]] static double bell(double x, double at, double width) noexcept {
    return std::exp(-0.5 * (x - at) * (x - at) / (width * width));
  }

  double peak_ = 7, width_ = 3.5, throat_ = 30, leak_ = 0.01, linear_ = 0.4, knee_ = 2.2;
  std::array<tuning_wave, 3> waves_{};
  per_cylinder offset_{}, swing_{};
};

}  // namespace virtual_engine

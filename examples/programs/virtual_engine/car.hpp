// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <cstdint>
#include <vector>

#include "fettle/io/log_table.hpp"
#include "fettle/vehicle.hpp"
#include "virtual_engine/dice.hpp"
#include "virtual_engine/engine.hpp"

namespace virtual_engine {

/// The car around the engine, with what no session describes: gears that lose differently, tyres that slip with force,
/// a driveline that winds up, an engine that gets hot and loses torque, wind and a road that is not quite as logged.
struct car_truth {
  engine power;
  fettle::car<double> body{.mass_kg = 760,
                           .turning = {.wheels_kgm2 = 3.2, .shafts_kgm2 = 0.02, .engine_kgm2 = 0.115},
                           .load = {.constant_n = 130, .linear_ns_per_m = 1.2, .quadratic_ns2_per_m2 = 0.42}};
  std::vector<double> ratios{2.6, 2.0, 1.62, 1.36, 1.17, 1.03};
  static constexpr double mean_efficiency = 0.94, efficiency_spread = 0.005;  ///< of the gears
  std::vector<double> efficiency = std::vector<double>(6, mean_efficiency);
  double final_ratio = 3.9, wheel_radius_m = 0.275, growth_per_m2s2 = 3e-6;
  double slip_per_n = 4e-6;  ///< of the driven tyres
  double torque_factor = 1;  ///< what a change has made of the engine's torque
  double hot_loss = 0.006;   ///< torque lost by a hot engine
  double pull_spread = 0.004, set_spread = 0.003;
  double combustion_spread = 0.006, combustion_s = 0.2;  ///< of torque, and how long it lasts
  double gust_mps = 0.5, gust_s = 2;
  double slope_error = 0.0008, slope_error_s = 3;  ///< of the logged slope

  /// A car with the engine of this seed, and gears that each lose a little more or less than 6 %.
  [[nodiscard]] static car_truth from_seed(std::uint64_t seed) {
    car_truth result{.power = engine::from_seed(seed)};
    dice draw{seed, 21};
    for (double& gear : result.efficiency) gear = mean_efficiency + efficiency_spread * draw.normal();
    return result;
  }

  /// Brake torque at standard air, best mixture.
  [[nodiscard]] double torque_nm(double rpm, double throttle_pct, double density = 1) const {
    auto air = power.air_factors(rpm);
    for (double& cylinder_air : air) cylinder_air *= density * power.air_mg(rpm, throttle_pct);
    per_cylinder phi;
    phi.fill(1 / 0.88);
    return torque_factor * power.torque_nm(rpm, throttle_pct, air, phi, 0);
  }
  [[nodiscard]] fettle::driveline<double> gear(std::size_t number) const {
    return {ratios[number - 1], final_ratio, wheel_radius_m, efficiency[number - 1], growth_per_m2s2};
  }
};

/// What a pull or a coast-down meets.
struct test_conditions {
  double kpa = 99, degc = 25;
  double torque_level = 0;  ///< relative: of set and pull
  double heat = 0.5;        ///< 0 cold to 1 hot at the start
  double headwind_mps = 0;
  bool is_out = true;  ///< which way the course is driven
  std::uint64_t seed = 1;
};

/// A full-throttle pull in one gear on a closed course, logged 100 times a second: speed from a wheel that is not driven.
///
/// Engine and car move by themselves; the slipping tyre between them carries a force in proportion to its slip and
/// loses the work of that force over the slip.
[[nodiscard]] fettle::log_table road_pull(const car_truth& truth, std::size_t gear_number, const test_conditions& now,
                                          double from_rpm = 3200, double to_rpm = 8500);

/// Full throttle in neutral: the engine turns nothing but itself. Its torque comes cylinder by cylinder, one
/// every 144 degrees, each at the speed its stroke began with.
[[nodiscard]] fettle::log_table free_pull(const car_truth& truth, const test_conditions& now, double from_rpm = 2000,
                                          double to_rpm = 8500);

/// A coast-down out of gear.
[[nodiscard]] fettle::log_table coast(const car_truth& truth, const test_conditions& now, double from_mps = 42,
                                      double to_mps = 10);

/// A sweep on a dynamometer: torque as its load cell gives it, with errors that last a while.
[[nodiscard]] fettle::log_table dyno_pull(const car_truth& truth, const test_conditions& now, double from_rpm = 3200,
                                          double to_rpm = 8500);

/// The free engine's speed after a throttle movement: torque comes cylinder by cylinder, one every 144 degrees, each with
/// the throttle that its intake stroke had, one revolution before.
///
/// @param throttle_pct  over time from the first movement.
template <class Throttle>
[[nodiscard]] double free_rev_rpm(const car_truth& truth, double from_rpm, double until_s, Throttle&& throttle_pct) {
  constexpr double dt = 1e-4;
  double rpm = from_rpm, turned_deg = 0, torque = truth.torque_nm(from_rpm, throttle_pct(-1.0));
  for (int i = 0; i * dt < until_s + 60 / rpm && rpm > 100; ++i) {
    turned_deg += 6 * rpm * dt;
    if (turned_deg >= 144) {
      turned_deg -= 144;
      torque = truth.torque_nm(rpm, throttle_pct(i * dt - 60 / rpm));
    }
    rpm += fettle::rpm_of(torque / truth.body.turning.engine_kgm2) * dt;
  }
  return rpm;
}

/// Day, set and pull: how a pull's conditions come about. Heat carries over from pull to pull.
class test_day {
 public:
  test_day(const car_truth& truth, std::uint64_t seed) : draw_{seed, 20}, truth_{&truth}, seed_{seed} {
    kpa_ = 99 + 0.8 * draw_.normal();
    degc_ = 22 + 4 * draw_.normal();
    wind_mps_ = 1.5 * draw_.normal();
  }
  void begin_set() {
    level_ = truth_->set_spread * draw_.normal();
    heat_ = draw_.uniform(0, 0.5);
  }
  /// The next pull: against the last one's direction.
  [[nodiscard]] test_conditions next() {
    degc_ += 0.3 * draw_.normal();
    kpa_ += 0.05 * draw_.normal();
    heat_ += (0.8 - heat_) * draw_.uniform(0.2, 0.5) - draw_.uniform(0, 0.15);
    wind_mps_ = -wind_mps_;
    ++count_;
    return {kpa_,
            degc_,
            level_ + truth_->pull_spread * draw_.normal(),
            heat_,
            wind_mps_,
            count_ % 2 == 0,
            seed_ * 1000 + count_};
  }

 private:
  dice draw_;
  const car_truth* truth_;
  std::uint64_t seed_, count_ = 0;
  double kpa_, degc_, wind_mps_, level_ = 0, heat_ = 0;
};

}  // namespace virtual_engine

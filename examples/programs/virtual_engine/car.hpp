// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <numbers>
#include <string>
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

namespace detail {

/// Noise that lasts a while: mean 0, standard deviation 1.
class lasting_noise {
 public:
  lasting_noise(std::uint64_t seed, std::uint64_t stream, double lasts_s) : draw_{seed, stream}, lasts_s_{lasts_s} {
    now_ = draw_.normal();
  }
  double step(double dt_s) {
    const double keep = std::exp(-dt_s / lasts_s_);
    return now_ = keep * now_ + std::sqrt(1 - keep * keep) * draw_.normal();
  }

 private:
  dice draw_;
  double lasts_s_, now_;
};

inline void add_row(fettle::log_table& log, const std::vector<double>& row, const std::vector<int>& decimals) {
  for (std::size_t i = 0; i < row.size(); ++i) {
    const double scale = std::pow(10.0, decimals[i]);
    log.columns[i].push_back(std::nearbyint(row[i] * scale) / scale);
  }
}

/// The world outside the car: gusts, and a road whose logged slope is a little off.
struct outside {
  outside(const car_truth& truth, const test_conditions& now)
      : gust{now.seed, 11, truth.gust_s}, hill{now.seed, 12, 6.0}, error{now.seed, 13, truth.slope_error_s} {}
  lasting_noise gust, hill, error;
  double wind_mps = 0, rise = 0, logged_rise = 0;
  void step(const car_truth& truth, const test_conditions& now, double dt) {
    wind_mps = now.headwind_mps + truth.gust_mps * gust.step(dt);
    rise = 0.004 * hill.step(dt);
    logged_rise = rise + truth.slope_error * error.step(dt);
  }
};

/// What holds the car back at a speed.
[[nodiscard]] inline double resistance_n(const car_truth& truth, double v, const outside& world) {
  const double relative = v + world.wind_mps;
  return fettle::road_load_n(truth.body.load, v) +
         truth.body.load.quadratic_ns2_per_m2 * (relative * std::abs(relative) - v * v) +
         fettle::slope_force_n(truth.body.mass_kg, world.rise);
}

}  // namespace detail

/// A full-throttle pull in one gear on a closed course, logged 100 times a second: speed from a wheel that is not driven.
///
/// Engine and car move by themselves; the slipping tyre between them carries a force in proportion to its slip and
/// loses the work of that force over the slip.
[[nodiscard]] inline fettle::log_table road_pull(const car_truth& truth, std::size_t gear_number,
                                                 const test_conditions& now, double from_rpm = 3200,
                                                 double to_rpm = 8500) {
  const auto gear = truth.gear(gear_number);
  dice noise{now.seed, 14};
  detail::outside world{truth, now};
  detail::lasting_noise combustion{now.seed, 15, truth.combustion_s};
  fettle::log_table log{
      {"time_s", "rpm", "speed_kmh", "throttle_pct", "grade_pct", "air_kPa", "air_degC", "coolant_degC"},
      std::vector<std::vector<double>>(8)};
  const double density = engine::density(now.kpa, now.degc), shuffle_hz = 5 + static_cast<double>(gear_number),
               dt = 0.001, mass = fettle::driven_mass_kg(truth.body, gear), ratio = gear.overall_ratio();
  const double first_n = truth.torque_nm(from_rpm, 100, density) * ratio * gear.efficiency / gear.wheel_radius_m;
  double rpm = from_rpm, v = fettle::road_speed_mps(gear, from_rpm) / (1 + truth.slip_per_n * first_n), heat = now.heat;
  for (int i = 0; rpm < to_rpm && i < 60000; ++i) {
    const double t = i * dt;
    world.step(truth, now, dt);
    heat += (1 - heat) * dt / 40;
    if (i % 10 == 0) {
      const double shuffle = 0.004 * std::exp(-t / 0.4) * std::sin(2 * std::numbers::pi * shuffle_hz * t);
      detail::add_row(log,
                      {t, rpm * (1 + shuffle) + 6 * noise.normal(), 3.6 * v + 0.05 * noise.normal(), 100,
                       100 * world.logged_rise, now.kpa + 0.02 * noise.normal(), now.degc, 84 + 10 * heat},
                      {3, 0, 2, 0, 2, 2, 1, 1});
    }
    const double torque = truth.torque_nm(rpm, 100, density) * (1 + now.torque_level - truth.hot_loss * heat) *
                          (1 + truth.combustion_spread * combustion.step(dt));
    const double drive_n = fettle::tyre_slip(gear, rpm, v) / truth.slip_per_n;
    const double torque_to_wheels = drive_n * gear.radius_m(v) / (ratio * gear.efficiency);
    v += (drive_n - detail::resistance_n(truth, v, world)) / mass * dt;
    rpm += fettle::rpm_of((torque - torque_to_wheels) / truth.body.turning.engine_kgm2) * dt;
  }
  return log;
}

/// Full throttle in neutral: the engine turns nothing but itself. Its torque comes cylinder by cylinder, one
/// every 144 degrees, each at the speed its stroke began with.
[[nodiscard]] inline fettle::log_table free_pull(const car_truth& truth, const test_conditions& now,
                                                 double from_rpm = 2000, double to_rpm = 8500) {
  dice noise{now.seed, 14};
  detail::lasting_noise combustion{now.seed, 15, truth.combustion_s};
  fettle::log_table log{{"time_s", "rpm", "throttle_pct", "air_kPa", "air_degC", "coolant_degC"},
                        std::vector<std::vector<double>>(6)};
  const double density = engine::density(now.kpa, now.degc), dt = 0.001;
  double rpm = from_rpm, turned_deg = 144, torque = 0;
  for (int i = 0; rpm < to_rpm && i < 60000; ++i) {
    turned_deg += 6 * rpm * dt;
    if (turned_deg >= 144) {
      turned_deg = std::fmod(turned_deg, 144.0);
      torque = truth.torque_nm(rpm, 100, density) * (1 + now.torque_level - truth.hot_loss * now.heat);
    }
    if (i % 10 == 0)
      detail::add_row(
          log, {i * dt, rpm + 6 * noise.normal(), 100, now.kpa + 0.02 * noise.normal(), now.degc, 84 + 10 * now.heat},
          {3, 0, 0, 2, 1, 1});
    rpm +=
        fettle::rpm_of(torque * (1 + truth.combustion_spread * combustion.step(dt)) / truth.body.turning.engine_kgm2) *
        dt;
  }
  return log;
}

/// A coast-down out of gear.
[[nodiscard]] inline fettle::log_table coast(const car_truth& truth, const test_conditions& now, double from_mps = 42,
                                             double to_mps = 10) {
  dice noise{now.seed, 16};
  detail::outside world{truth, now};
  const double mass = fettle::driven_mass_kg(truth.body, truth.gear(1)), dt = 0.01;
  fettle::log_table log{{"time_s", "speed_kmh", "grade_pct"}, std::vector<std::vector<double>>(3)};
  double v = from_mps;
  for (int i = 0; v > to_mps && i < 20000; ++i) {
    world.step(truth, now, dt);
    v -= detail::resistance_n(truth, v, world) / mass * dt;
    if (i % 5 == 0) detail::add_row(log, {i * dt, 3.6 * v + 0.05 * noise.normal(), 100 * world.logged_rise}, {3, 2, 2});
  }
  return log;
}

/// A sweep on a dynamometer: torque as its load cell gives it, with errors that last a while.
[[nodiscard]] inline fettle::log_table dyno_pull(const car_truth& truth, const test_conditions& now,
                                                 double from_rpm = 3200, double to_rpm = 8500) {
  dice noise{now.seed, 17};
  detail::lasting_noise cell{now.seed, 18, 0.3};
  fettle::log_table log{{"time_s", "rpm", "torque_nm", "throttle_pct", "air_kPa", "air_degC", "coolant_degC"},
                        std::vector<std::vector<double>>(7)};
  const double density = engine::density(now.kpa, now.degc), dt = 0.01, per_s = 500;
  double heat = now.heat;
  for (int i = 0; from_rpm + per_s * dt * i < to_rpm; ++i) {
    const double rpm = from_rpm + per_s * dt * i;
    heat += (1 - heat) * dt / 40;
    const double torque = truth.torque_nm(rpm, 100, density) * (1 + now.torque_level - truth.hot_loss * heat);
    detail::add_row(log,
                    {i * dt, rpm + 5 * noise.normal(), torque * (1 + 0.006 * cell.step(dt)) + 0.8 * noise.normal(), 100,
                     now.kpa + 0.02 * noise.normal(), now.degc, 84 + 10 * heat},
                    {3, 0, 2, 0, 2, 2, 1});
  }
  return log;
}

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

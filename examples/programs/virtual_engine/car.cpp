// SPDX-License-Identifier: MIT
#include "virtual_engine/car.hpp"

#include <cmath>
#include <numbers>

namespace virtual_engine {
namespace {

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

void add_row(fettle::log_table& log, const std::vector<double>& row, const std::vector<int>& decimals) {
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
[[nodiscard]] double resistance_n(const car_truth& truth, double v, const outside& world) {
  const double relative = v + world.wind_mps;
  return fettle::road_load_n(truth.body.load, v) +
         truth.body.load.quadratic_ns2_per_m2 * (relative * std::abs(relative) - v * v) +
         fettle::slope_force_n(truth.body.mass_kg, world.rise);
}

}  // namespace

fettle::log_table road_pull(const car_truth& truth, std::size_t gear_number, const test_conditions& now,
                            double from_rpm, double to_rpm) {
  const auto gear = truth.gear(gear_number);
  dice noise{now.seed, 14};
  outside world{truth, now};
  lasting_noise combustion{now.seed, 15, truth.combustion_s};
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
      add_row(log,
              {t, rpm * (1 + shuffle) + 6 * noise.normal(), 3.6 * v + 0.05 * noise.normal(), 100,
               100 * world.logged_rise, now.kpa + 0.02 * noise.normal(), now.degc, 84 + 10 * heat},
              {3, 0, 2, 0, 2, 2, 1, 1});
    }
    const double torque = truth.torque_nm(rpm, 100, density) * (1 + now.torque_level - truth.hot_loss * heat) *
                          (1 + truth.combustion_spread * combustion.step(dt));
    const double drive_n = fettle::tyre_slip(gear, rpm, v) / truth.slip_per_n;
    const double torque_to_wheels = drive_n * gear.radius_m(v) / (ratio * gear.efficiency);
    v += (drive_n - resistance_n(truth, v, world)) / mass * dt;
    rpm += fettle::rpm_of((torque - torque_to_wheels) / truth.body.turning.engine_kgm2) * dt;
  }
  return log;
}

fettle::log_table free_pull(const car_truth& truth, const test_conditions& now, double from_rpm, double to_rpm) {
  dice noise{now.seed, 14};
  lasting_noise combustion{now.seed, 15, truth.combustion_s};
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
      add_row(log,
              {i * dt, rpm + 6 * noise.normal(), 100, now.kpa + 0.02 * noise.normal(), now.degc, 84 + 10 * now.heat},
              {3, 0, 0, 2, 1, 1});
    rpm +=
        fettle::rpm_of(torque * (1 + truth.combustion_spread * combustion.step(dt)) / truth.body.turning.engine_kgm2) *
        dt;
  }
  return log;
}

fettle::log_table coast(const car_truth& truth, const test_conditions& now, double from_mps, double to_mps) {
  dice noise{now.seed, 16};
  outside world{truth, now};
  const double mass = fettle::driven_mass_kg(truth.body, truth.gear(1)), dt = 0.01;
  fettle::log_table log{{"time_s", "speed_kmh", "grade_pct"}, std::vector<std::vector<double>>(3)};
  double v = from_mps;
  for (int i = 0; v > to_mps && i < 20000; ++i) {
    world.step(truth, now, dt);
    v -= resistance_n(truth, v, world) / mass * dt;
    if (i % 5 == 0) add_row(log, {i * dt, 3.6 * v + 0.05 * noise.normal(), 100 * world.logged_rise}, {3, 2, 2});
  }
  return log;
}

fettle::log_table dyno_pull(const car_truth& truth, const test_conditions& now, double from_rpm, double to_rpm) {
  dice noise{now.seed, 17};
  lasting_noise cell{now.seed, 18, 0.3};
  fettle::log_table log{{"time_s", "rpm", "torque_nm", "throttle_pct", "air_kPa", "air_degC", "coolant_degC"},
                        std::vector<std::vector<double>>(7)};
  const double density = engine::density(now.kpa, now.degc), dt = 0.01, per_s = 500;
  double heat = now.heat;
  for (int i = 0; from_rpm + per_s * dt * i < to_rpm; ++i) {
    const double rpm = from_rpm + per_s * dt * i;
    heat += (1 - heat) * dt / 40;
    const double torque = truth.torque_nm(rpm, 100, density) * (1 + now.torque_level - truth.hot_loss * heat);
    add_row(log,
            {i * dt, rpm + 5 * noise.normal(), torque * (1 + 0.006 * cell.step(dt)) + 0.8 * noise.normal(), 100,
             now.kpa + 0.02 * noise.normal(), now.degc, 84 + 10 * heat},
            {3, 0, 2, 0, 2, 2, 1});
  }
  return log;
}

}  // namespace virtual_engine

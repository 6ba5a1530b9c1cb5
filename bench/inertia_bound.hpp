// SPDX-License-Identifier: MIT
#pragma once

#include <Eigen/Dense>
#include <array>
#include <cmath>
#include <cstddef>
#include <vector>

#include "compare_pulls/pull_rows.hpp"
#include "virtual_engine/car.hpp"

namespace pulls_table {

/// What is driven to find an engine's inertia.
struct inertia_experiment {
  std::vector<std::size_t> gears{};  ///< 0: free revving
  std::size_t pulls_in_each = 1;
  double efficiency_spread = 0;  ///< standard deviation of each gear's efficiency, relative, which no pull shows
};

/// One undisturbed pull: engine speed, its acceleration, torque, and force per disturbance, in steps of 50 ms.
struct quiet_pull {
  std::vector<double> time_s{}, rpm{}, rad_per_s2{}, torque_nm{}, speed_mps{};
  double lever_m = 0;  ///< N m at the crank per N at the road; 0: free

  quiet_pull(const virtual_engine::car_truth& truth, std::size_t gear_number) {
    const bool is_free = gear_number == 0;
    const auto gear = truth.gear(is_free ? 1 : gear_number);
    if (!is_free) lever_m = gear.wheel_radius_m / (gear.overall_ratio() * gear.efficiency);
    constexpr double dt = 0.005;
    double now_rpm = is_free ? 2000 : 3200;
    for (int i = 0; now_rpm < 8500; ++i) {
      const double torque = truth.torque_nm(now_rpm, 100), v = is_free ? 0 : fettle::road_speed_mps(gear, now_rpm);
      const double slope = is_free ? torque / truth.body.turning.engine_kgm2
                                   : fettle::acceleration_mps2(truth.body, gear, {.speed_mps = v}, torque) *
                                         gear.overall_ratio() / gear.radius_m(v);
      if (i % 10 == 0) {
        time_s.push_back(i * dt);
        rpm.push_back(now_rpm);
        rad_per_s2.push_back(slope);
        torque_nm.push_back(torque);
        speed_mps.push_back(v);
      }
      now_rpm += fettle::rpm_of(slope) * dt;
    }
  }

  /// Covariance of the torque that a number of pulls show, in (N m)^2: the level of each pull, combustion, gusts, the
  /// logged slope's error, and losses of the gear that all its pulls share.
  [[nodiscard]] Eigen::MatrixXd covariance(const virtual_engine::car_truth& truth,
                                           const inertia_experiment& driven) const {
    const auto n = static_cast<Eigen::Index>(time_s.size());
    const double pulls = static_cast<double>(driven.pulls_in_each);
    const double slope_n = truth.body.mass_kg * fettle::standard_gravity_mps2<double> * truth.slope_error;
    const auto square = [](double x) { return x * x; };
    Eigen::MatrixXd result(n, n);
    for (Eigen::Index i = 0; i < n; ++i)
      for (Eigen::Index k = 0; k < n; ++k) {
        const auto a = static_cast<std::size_t>(i), b = static_cast<std::size_t>(k);
        const double apart_s = std::abs(time_s[a] - time_s[b]), torques = torque_nm[a] * torque_nm[b];
        const double gusts = square(2 * truth.body.load.quadratic_ns2_per_m2 * truth.gust_mps) * speed_mps[a] *
                             speed_mps[b] * std::exp(-apart_s / truth.gust_s);
        const double each = torques * (square(truth.pull_spread) +
                                       square(truth.combustion_spread) * std::exp(-apart_s / truth.combustion_s)) +
                            square(lever_m) * (gusts + square(slope_n) * std::exp(-apart_s / truth.slope_error_s));
        const auto to_wheels_nm = [&](std::size_t row) {
          return torque_nm[row] - truth.body.turning.engine_kgm2 * rad_per_s2[row];
        };
        const double losses = lever_m > 0 ? to_wheels_nm(a) * to_wheels_nm(b) * square(driven.efficiency_spread) : 0;
        result(i, k) = each / pulls + losses;
      }
    return result;
  }
};

/// The least standard error, relative to the inertia, that any unbiased method can have: the Cramer-Rao bound with the
/// torque curve and the inertia unknown and everything else known, road load, wind and the size of all errors included.
///
/// Source: for Gaussian errors the inverse of X' C^-1 X, e.g. S. M. Kay, "Fundamentals of Statistical Signal Processing:
///         Estimation Theory", Prentice Hall 1993, chapter 4 (from memory).
[[nodiscard]] inline double least_inertia_error(const virtual_engine::car_truth& truth,
                                                const inertia_experiment& driven) {
  std::vector<double> points;
  for (double rpm = 2000; rpm <= 8500; rpm += 250) points.push_back(rpm);
  const auto axis = *fettle::dynamic_axis<double>::from(points);
  const auto cells = static_cast<Eigen::Index>(axis.size());
  Eigen::MatrixXd information = Eigen::MatrixXd::Zero(cells + 1, cells + 1);
  for (const std::size_t gear : driven.gears) {
    const quiet_pull pull(truth, gear);
    Eigen::MatrixXd x(static_cast<Eigen::Index>(pull.rpm.size()), cells + 1);
    x.leftCols(cells) = compare_pulls::detail::hats(axis, pull.rpm);
    x.col(cells) = -Eigen::Map<const Eigen::VectorXd>(pull.rad_per_s2.data(), x.rows());
    information += x.transpose() * pull.covariance(truth, driven).llt().solve(x);
  }
  information.diagonal().head(cells).array() += 1e-9;  // speeds that no pull goes through
  const Eigen::MatrixXd least = information.inverse();
  return std::sqrt(least(cells, cells)) / truth.body.turning.engine_kgm2;
}

}  // namespace pulls_table

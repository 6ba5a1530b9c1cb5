// SPDX-License-Identifier: MIT
#pragma once

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <cstddef>
#include <vector>

#include "compare_pulls/pull.hpp"
#include "compare_pulls/settings.hpp"
#include "fettle/map/dynamic_table.hpp"
#include "fettle/map/place.hpp"

namespace compare_pulls {

/// One pull as rows of a linear model, whitened: their errors are taken to be independent, with variance 1.
///
/// value + road_load * (A, B, C) = torque * cells - inertia * engine_kgm2 - wind * W, all per row; W is the force that a
/// steady wind adds per m/s of the car on the way out, and takes off on the way back.
/// Shape: n rows; `cells` n x K, `inertia` and `wind` n, `road_load` n x 3.
struct pull_rows {
  Eigen::VectorXd value, inertia, wind;
  Eigen::MatrixXd cells, road_load;
};

/// Errors assumed within a pull, relative to its mean torque. They set the weights of its rows only; the intervals come
/// from the differences between whole pulls.
struct working_errors {
  double level = 0.005;     ///< of the whole pull, such as that of a hot engine
  double wander = 0.01;     ///< of torque on a dynamometer; of force on the road, over a second
  double wander_s = 0.3;    ///< how long it lasts on a dynamometer
  double white = 0.005;     ///< of one row of a dynamometer
  double speed_mps = 0.01;  ///< of the mean speed of a row
};

namespace detail {

/// Means of rows over stretches of time, some 60 to a pull.
class bins {
 public:
  explicit bins(const std::vector<double>& time_s) {
    const double width = std::max(0.05, (time_s.back() - time_s.front()) / 60);
    double end = time_s.front() + width;
    begin_.push_back(0);
    for (std::size_t i = 0; i < time_s.size(); ++i)
      if (time_s[i] >= end) {
        begin_.push_back(i);
        while (time_s[i] >= end) end += width;
      }
    if (begin_.back() + 1 == time_s.size() && begin_.size() > 2) begin_.pop_back();
    begin_.push_back(time_s.size());
  }
  [[nodiscard]] Eigen::Index count() const { return static_cast<Eigen::Index>(begin_.size()) - 1; }
  [[nodiscard]] Eigen::MatrixXd means(const Eigen::MatrixXd& rows) const {
    Eigen::MatrixXd result(count(), rows.cols());
    for (Eigen::Index b = 0; b < count(); ++b) {
      const auto first = static_cast<Eigen::Index>(begin_[static_cast<std::size_t>(b)]);
      const auto size = static_cast<Eigen::Index>(begin_[static_cast<std::size_t>(b) + 1]) - first;
      result.row(b) = rows.middleRows(first, size).colwise().mean();
    }
    return result;
  }

 private:
  std::vector<std::size_t> begin_;
};

/// Weights of the breakpoints for every row.
[[nodiscard]] inline Eigen::MatrixXd hats(const fettle::dynamic_axis<double>& rpm, const std::vector<double>& at) {
  Eigen::MatrixXd result =
      Eigen::MatrixXd::Zero(static_cast<Eigen::Index>(at.size()), static_cast<Eigen::Index>(rpm.size()));
  for (std::size_t i = 0; i < at.size(); ++i) {
    const auto place = fettle::locate(rpm.view(), at[i]);
    const auto row = static_cast<Eigen::Index>(i), column = static_cast<Eigen::Index>(place.index);
    result(row, column) += 1 - place.fraction;
    result(row, column + 1) += place.fraction;
  }
  return result;
}

/// Integrals over time from the first row, by the trapezoidal rule.
[[nodiscard]] inline Eigen::MatrixXd cumulated(const Eigen::MatrixXd& rows, const std::vector<double>& time_s) {
  Eigen::MatrixXd result = Eigen::MatrixXd::Zero(rows.rows(), rows.cols());
  for (Eigen::Index i = 1; i < rows.rows(); ++i)
    result.row(i) =
        result.row(i - 1) + (rows.row(i) + rows.row(i - 1)) / 2 *
                                (time_s[static_cast<std::size_t>(i)] - time_s[static_cast<std::size_t>(i) - 1]);
  return result;
}

inline void whiten(pull_rows& rows, const Eigen::MatrixXd& covariance) {
  const Eigen::LLT<Eigen::MatrixXd> factor(covariance);
  factor.matrixL().solveInPlace(rows.value);
  factor.matrixL().solveInPlace(rows.inertia);
  factor.matrixL().solveInPlace(rows.wind);
  factor.matrixL().solveInPlace(rows.cells);
  factor.matrixL().solveInPlace(rows.road_load);
}

/// Torque row by row; its errors are correlated over time and share a level of the whole pull.
[[nodiscard]] inline pull_rows dyno_rows(const pull& p, const fettle::dynamic_axis<double>& rpm,
                                         const working_errors& errors) {
  const bins mean_of(p.time_s);
  const auto n = static_cast<Eigen::Index>(p.time_s.size());
  pull_rows rows;
  rows.value = mean_of.means(Eigen::Map<const Eigen::VectorXd>(p.torque_nm.data(), n)) * p.air_factor;
  rows.cells = mean_of.means(hats(rpm, p.rpm));
  rows.inertia = Eigen::VectorXd::Zero(mean_of.count());
  rows.wind = Eigen::VectorXd::Zero(mean_of.count());
  rows.road_load = Eigen::MatrixXd::Zero(mean_of.count(), 3);
  const Eigen::VectorXd time = mean_of.means(Eigen::Map<const Eigen::VectorXd>(p.time_s.data(), n));
  const double scale = rows.value.mean();
  Eigen::MatrixXd covariance = errors.level * errors.level * rows.value * rows.value.transpose();
  for (Eigen::Index i = 0; i < time.size(); ++i)
    for (Eigen::Index k = 0; k < time.size(); ++k)
      covariance(i, k) +=
          scale * scale * errors.wander * errors.wander * std::exp(-std::abs(time[i] - time[k]) / errors.wander_s);
  covariance.diagonal().array() += scale * scale * errors.white * errors.white;
  whiten(rows, covariance);
  return rows;
}

/// The impulse of the engine since the first row, in N m s at the crank, from what it has accelerated and overcome;
/// nothing is differentiated. Errors: of each speed, of a force that wanders, of the level of the whole pull, and of any
/// size in the first speed.
[[nodiscard]] inline pull_rows road_rows(const pull& p, const settings& settings,
                                         const fettle::dynamic_axis<double>& rpm, const working_errors& errors) {
  const bins mean_of(p.time_s);
  const auto n = static_cast<Eigen::Index>(p.time_s.size());
  fettle::driveline<double> gear;
  double mass = 0, lever = 1;  // N m at the crank per N at the road, at walking pace's radius
  if (!p.is_free) {
    gear = settings.gears[p.gear - 1];
    mass = fettle::driven_mass_kg(settings.car, gear);
    lever = gear.wheel_radius_m / (gear.overall_ratio() * gear.efficiency);
  }
  Eigen::MatrixXd force = Eigen::MatrixXd::Zero(n, 4);  // slope, then 1, v, v^2
  Eigen::VectorXd gained = Eigen::VectorXd::Zero(n), spun = Eigen::VectorXd::Zero(n);
  Eigen::MatrixXd cells = hats(rpm, p.rpm) / p.air_factor;
  for (Eigen::Index i = 0; i < n; ++i) {
    const auto row = static_cast<std::size_t>(i);
    spun[i] = fettle::rad_per_s_of(p.rpm[row] - p.rpm[0]);
    if (p.is_free) continue;
    const double v = p.speed_mps[row];
    gained[i] = mass * (v - p.speed_mps[0]);
    force.row(i) << fettle::slope_force_n(settings.car.mass_kg, p.rise[row]), 1, v, v * v;
    const double growth = gear.radius_m(v) / gear.wheel_radius_m;
    cells.row(i) /= growth;  // of the lever
    spun[i] /= growth;
  }
  force = cumulated(force, p.time_s);
  pull_rows rows;
  rows.value = mean_of.means(lever * (gained + force.col(0)));
  rows.cells = mean_of.means(cumulated(cells, p.time_s));
  rows.inertia = mean_of.means(spun);
  rows.road_load = lever * mean_of.means(force.rightCols(3));
  rows.wind = static_cast<double>(p.way) * rows.road_load.col(1);
  const Eigen::VectorXd time = mean_of.means(Eigen::Map<const Eigen::VectorXd>(p.time_s.data(), n));
  const double torque = 200, speed = p.is_free ? errors.wander * torque * 0.02 : errors.speed_mps * mass * lever;
  const double wander = errors.wander * torque, level = errors.level * torque;
  Eigen::MatrixXd covariance(time.size(), time.size());
  for (Eigen::Index i = 0; i < time.size(); ++i)
    for (Eigen::Index k = 0; k < time.size(); ++k) {
      const double a = time[i] - p.time_s[0], b = time[k] - p.time_s[0];
      covariance(i, k) = wander * wander * std::min(a, b) + level * level * a * b + 1e4 * speed * speed;
    }
  covariance.diagonal().array() += speed * speed;
  whiten(rows, covariance);
  return rows;
}

}  // namespace detail

/// The rows of one pull over the breakpoints of a torque curve.
[[nodiscard]] inline pull_rows rows_of(const pull& p, const settings& settings, const fettle::dynamic_axis<double>& rpm,
                                       const working_errors& errors = {}) {
  const bool is_dyno = settings.source == torque_source::dyno && !p.is_free;
  return is_dyno ? detail::dyno_rows(p, rpm, errors) : detail::road_rows(p, settings, rpm, errors);
}

}  // namespace compare_pulls

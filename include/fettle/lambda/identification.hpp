// SPDX-License-Identifier: MIT
#pragma once

#include <Eigen/Core>
#include <cmath>
#include <cstddef>
#include <string>
#include <vector>

#include "fettle/lambda/cylinder_trims.hpp"
#include "fettle/lambda/dynamics.hpp"
#include "fettle/lambda/screening.hpp"

namespace fettle {

/// What logs say of one parameter.
struct parameter_estimate {
  parameter prior;
  double value = 0;
  double relative_error = 0;  ///< standard error of the natural logarithm, the model's own error included
  double reading_error = 0;   ///< the same without it: what noise, the length of the log and uncertain parameters leave
  double identified_share = 0;  ///< share of the prior's variance that the log removed, 0 .. 1

  /// How many prior standard deviations of the logarithm the value lies from the prior's; 0 for what is held.
  [[nodiscard]] double deviations() const noexcept {
    return prior.spread > 0 ? std::abs(std::log(value / prior.value)) / prior.spread : 0;
  }
};

/// Two quantities that the log moves together.
struct correlated_pair {
  std::string first, second;
  double correlation = 0;
};

/// How far the readings of one sensor lie from what map, film and path explain.
struct sensor_scatter {
  double noise = 0;    ///< robust standard deviation of phi about the model
  double misfits = 0;  ///< share of the readings that were ignored as far outside the noise
};

/// How much richer one log reads than the others, as a factor on phi: fuel, weather.
struct log_level {
  std::string name{};
  double level = 1;
  double spread = 0;  ///< prior standard deviation of its natural logarithm

  /// How many prior standard deviations it lies from 1.
  [[nodiscard]] double deviations() const noexcept { return std::abs(std::log(level)) / spread; }
};

/// What logs say of the map and of the way from injection to reading.
struct identification {
  std::vector<double> correction;      ///< per cell of the map: its right value over its present one
  std::vector<double> strengths;       ///< smoothing of the correction along each axis, as chosen from the logs
  std::vector<double> standard_error;  ///< of the correction's natural logarithm; errors correlated in time and at an
                                       ///< operating point counted, what all cells share left out
  double common_error = 0;             ///< standard error that all cells share on top of it: gain of the best sensor
  Eigen::MatrixXd covariance;          ///< of the corrections' natural logarithms, what all cells share left out
  std::vector<double> seconds;         ///< per cell: how long the engine ran there with fuel, counted or not
  std::vector<double> exhaust_flow_share;  ///< per cell: mean exhaust flow there over the largest in the logs
  std::vector<double> passes;              ///< per cell: distinct visits whose readings counted
  /// Per cell: share of its readings at the lean end of the sensor's range, but for those that the model expects there,
  /// as the sensor still shows air from a fuel cut.
  std::vector<double> lean_end_share;
  std::vector<double> agreement;  ///< per cell: mean robust weight of its readings; about 0.9 where the model holds
  std::vector<double> readings;   ///< per cell: sum of the interpolation weights of the readings that counted
  dynamics with;                  ///< parameters as found
  std::vector<parameter_estimate> parameters;  ///< the free ones
  std::vector<parameter_estimate> gains;       ///< of every sensor, on phi
  std::vector<log_level> log_levels;           ///< one per log; empty: there is one log
  cylinder_trims cylinders;                    ///< empty where every sensor sees the mean of all cylinders
  std::vector<correlated_pair> correlated;     ///< beyond 0.95
  std::vector<rejection_counts> rejected;      ///< one per sensor, all logs together
  std::vector<sensor_scatter> scatter;         ///< one per sensor, all logs together
  double misfits = 0;                          ///< share of the readings that were ignored as far outside the noise
  double noise = 0;                            ///< robust standard deviation of phi about the model
  int rounds = 0;
  bool settled = false;  ///< the last round moved no cell by more than a twentieth of its error
  double last_move = 0;  ///< of the cell that the last round moved farthest, over its error
};

}  // namespace fettle

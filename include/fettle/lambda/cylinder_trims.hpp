// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <vector>

#include "fettle/lambda/rotation.hpp"
#include "fettle/lambda/screening.hpp"
#include "fettle/map/dynamic_table.hpp"

namespace fettle {

/// What logs say of each cylinder: how much of the common fuel it needs.
///
/// Shape: [cylinder][cell of the trim map].
struct cylinder_trims {
  std::vector<dynamic_axis<double>> axes;           ///< rank 0 to 2
  std::vector<std::vector<double>> correction;      ///< multiplier of fuel that puts it on the collector's phi; mean 1
  std::vector<std::vector<double>> standard_error;  ///< of its natural logarithm, as the best trim map on these axes;
                                                    ///< correlated errors counted
  std::vector<std::vector<double>> passes;          ///< distinct visits whose readings counted
  std::vector<std::vector<double>> lean_end_share;  ///< share of its readings at the lean end, air of fuel cuts apart
  std::vector<std::vector<double>> agreement;       ///< mean robust weight of its readings
  std::vector<std::vector<double>> readings;        ///< sum of the interpolation weights of the readings that counted
  std::vector<double> seconds;                      ///< per cell: how long the engine ran there with fuel
  std::vector<double> collector_lambda;             ///< per cell: mean where the engine ran; NaN: never there
  std::vector<double> target_lambda;                ///< per cell, likewise
  separability separable;
  std::vector<std::vector<rejection_counts>> rejected;  ///< [log][sensor]
  std::vector<sensor_stay> unused;                      ///< stays with too few readings to count
};

}  // namespace fettle

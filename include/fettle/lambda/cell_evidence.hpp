// SPDX-License-Identifier: MIT
#pragma once

namespace fettle {

/// What is known of one cell of a map, or of one cylinder's trim in one cell, however it was estimated.
///
/// `correction` and `standard_error` are mean and standard deviation of what the right value may be, prior knowledge
/// included.
struct cell_evidence {
  double correction = 1;      ///< right value over present value, as estimated; above 1 the cell needs more fuel
  double standard_error = 0;  ///< of its natural logarithm
  double common_error = 0;    ///< of the logarithm of what all cells share, such as a sensor's gain; beside the other
  double seconds = 0;         ///< how long the engine ran there with fuel
  double passes = 0;          ///< distinct visits whose readings counted; 0: nothing was measured there
  double lean_end_share = 0;  ///< share of its readings at the sensor's lean end, but for air from a fuel cut
  double agreement = 1;       ///< mean robust weight of its readings, 0 .. 1; low: they contradict each other
  double false_lean = 0;      ///< by how much its readings may be leaner than the mixture, as at little exhaust flow
};

}  // namespace fettle

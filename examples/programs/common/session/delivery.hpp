// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <string>
#include <vector>

#include "common/session/log_conditions.hpp"
#include "common/session/log_fuel.hpp"
#include "common/session/session.hpp"
#include "fettle/error.hpp"
#include "fettle/io/log_table.hpp"

namespace session {

/// One thing with which the ratio of delivered to asked fuel changes.
struct delivery_trend {
  std::string name;          ///< of a logged condition, or of an axis of the map
  double change = 0;         ///< of the ratio, as a fraction, from the 5 % to the 95 % point of that condition
  std::string cause;         ///< what usually makes it
  bool is_condition = true;  ///< false: an axis of the map, where closed loop or another map shows
};

/// The fuel that the logged pulses deliver against the fuel that map, target and logged factors ask for.
///
/// 1 throughout where map, pulses, injectors and log belong together. What departs from 1 in step with a condition is a
/// factor of the controller that was not logged, or an injector described otherwise than the controller has it: either
/// acts on the corrected map as it did on this one, so it belongs to the need.
struct delivery {
  double ratio = std::nan("");  ///< the median, at the reference drop; NaN without fuel or without pulses
  std::vector<delivery_trend> trends{};
  std::vector<double>
      factor{};  ///< per row: what slow changes, pressure and dead time make of it; empty without pulses
};

/// Finds with what the ratio of delivered to asked fuel changes along a log.
///
/// Source: least squares on the logarithm of the ratio, a condition at a time, over the rows within six median absolute
///         deviations of the median (common practice, no source). What is slow is then followed as a mean over ten
///         seconds, so that it needs no law.
[[nodiscard]] delivery assess_delivery(const log_fuel& fuel, const log_conditions& now, const fettle::map_file& base,
                                       const fettle::log_table& log);

}  // namespace session

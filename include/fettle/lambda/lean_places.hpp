// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <map>
#include <utility>
#include <vector>

#include "fettle/lambda/detail/quarters.hpp"
#include "fettle/lambda/forecast.hpp"
#include "fettle/map/dynamic_table.hpp"

namespace fettle {

/// A place between the breakpoints of a map where readings stay lean with it.
struct lean_place {
  std::vector<double> at;   ///< coordinates of its middle
  double lambda_error = 0;  ///< median of lambda over target, less 1
  double seconds = 0;       ///< of driving there with the wall films near rest
};

/// Where readings would stay lean with a corrected map loaded, the leanest first.
///
/// Cells alone do not show it: between breakpoints that are far apart the engine may need more than the map's
/// interpolation gives, whatever its cells hold. Readings are therefore taken together by quarters of a cell, and their
/// median is compared with the target.
///
/// @param forecasts     what the map would have done to the readings of each log.
/// @param least_error   lambda over target, less 1, from which on a place is lean.
/// @param least_seconds  of readings, below which a place tells nothing.
[[nodiscard]] inline std::vector<lean_place> lean_places(const std::vector<forecast>& forecasts,
                                                         const dynamic_table<double>& base, double least_error,
                                                         double least_seconds = 1) {
  struct readings {
    std::vector<double> error;
    double seconds = 0;
  };
  std::map<std::uint32_t, readings> places;
  for (const auto& log : forecasts)
    for (std::size_t i = 0; i < log.read_quarter.size(); ++i) {
      readings& here = places[log.read_quarter[i]];
      here.error.push_back(log.read_after[i]);
      here.seconds += log.read_step_s[i];
    }
  std::vector<lean_place> result;
  for (auto& [quarter, here] : places) {
    const auto middle = here.error.begin() + static_cast<std::ptrdiff_t>(here.error.size() / 2);
    std::nth_element(here.error.begin(), middle, here.error.end());
    if (here.seconds >= least_seconds && *middle > least_error)
      result.push_back({detail::middle_of(quarter, base), *middle, here.seconds});
  }
  std::stable_sort(result.begin(), result.end(),
                   [](const auto& a, const auto& b) { return a.lambda_error > b.lambda_error; });
  return result;
}

}  // namespace fettle

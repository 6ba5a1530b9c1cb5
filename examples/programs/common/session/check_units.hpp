// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <iterator>
#include <string>
#include <vector>

#include "common/session/session.hpp"
#include "fettle/error.hpp"
#include "fettle/io/map_file.hpp"
#include "fettle/lambda/recording.hpp"

namespace session {
namespace detail {

/// Finite values of a series in order; empty when there is none.
[[nodiscard]] inline std::vector<double> sorted(const std::vector<double>& series) {
  std::vector<double> result;
  std::copy_if(series.begin(), series.end(), std::back_inserter(result), [](double x) { return std::isfinite(x); });
  std::sort(result.begin(), result.end());
  return result;
}

/// Refuses a column of lambda whose median is that of an air-fuel ratio.
inline void refuse_ratio(const std::vector<double>& values, const std::string& column, double stoichiometric,
                         const std::string& log) {
  constexpr double no_lambda = 5;  // leaner than any engine burns, and richer than any fuel's stoichiometric ratio
  const auto ordered = sorted(values);
  if (ordered.empty() || ordered[ordered.size() / 2] < no_lambda) return;
  throw fettle::error(fmt::format(
      "{}: half of the values in the column {} lie above {:.4g}: that is an air-fuel ratio, expected lambda; give the "
      "column a factor of {:.5f} in the session's /columns, one over the stoichiometric ratio of {:g}",
      log, column, ordered[ordered.size() / 2], 1 / stoichiometric, stoichiometric));
}

}  // namespace detail

/// Refuses a log whose lambda is an air-fuel ratio.
///
/// Errors: `fettle::error` naming log, column, value and the factor that is missing.
inline void refuse_air_fuel_ratio(const session& then, const fettle::recording& log) {
  detail::refuse_ratio(log.target_lambda, "lambda_target", then.stoichiometric_afr, log.name);
  for (std::size_t s = 0; s < log.sensors.size(); ++s)
    detail::refuse_ratio(log.sensors[s].lambda, then.sensors[s].column, then.stoichiometric_afr, log.name);
}

/// Why a log does not seem to count as the map's axes do: it covers a hundredth of one, as 0 to 1 of an axis from 0 to
/// 100. None when it does; an engine that only idled looks like it, so this is no refusal.
[[nodiscard]] inline std::vector<std::string> unit_objections(const fettle::map_file& base,
                                                              const fettle::recording& log) {
  std::vector<std::string> result;
  for (std::size_t a = 0; a < log.at.size(); ++a) {
    const auto ordered = detail::sorted(log.at[a]);
    const auto& points = base.table.axes()[a].points();
    constexpr double hundredth = 0.015;
    if (ordered.empty() || ordered.back() - ordered.front() > hundredth * (points.back() - points.front()) ||
        std::abs(ordered.back()) > hundredth * std::max(std::abs(points.back()), std::abs(points.front())))
      continue;
    result.push_back(
        fmt::format("{}: {} runs from {:g} to {:g} in this log, on an axis from {:g} to {:g}: if the log counts in "
                    "hundredths, give "
                    "{} a factor of 100 in the session's /columns",
                    log.name, base.axis_names[a], ordered.front(), ordered.back(), points.front(), points.back(),
                    base.axis_names[a]));
  }
  return result;
}

}  // namespace session

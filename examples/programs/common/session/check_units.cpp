// SPDX-License-Identifier: MIT
#include "common/session/check_units.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <iterator>
#include <vector>

namespace session {
namespace {

/// Finite values of a series in order; empty when there is none.
[[nodiscard]] std::vector<double> sorted(const std::vector<double>& series) {
  std::vector<double> result;
  std::copy_if(series.begin(), series.end(), std::back_inserter(result), [](double x) { return std::isfinite(x); });
  std::sort(result.begin(), result.end());
  return result;
}

/// Refuses a column of lambda whose median is that of an air-fuel ratio.
void refuse_ratio(const std::vector<double>& values, const std::string& column, double stoichiometric,
                  const std::string& log) {
  constexpr double no_lambda = 5;  // leaner than any engine burns, and richer than any fuel's stoichiometric ratio
  const auto ordered = sorted(values);
  if (ordered.empty() || ordered[ordered.size() / 2] < no_lambda) return;
  throw fettle::error(fmt::format(
      "{}: half of the values in the column {} lie above {:.4g}: that is an air-fuel ratio, expected lambda; give the "
      "column a factor of {:.5f} in the session's /columns, one over the stoichiometric ratio of {:g}",
      log, column, ordered[ordered.size() / 2], 1 / stoichiometric, stoichiometric));
}

}  // namespace

void refuse_air_fuel_ratio(const session& during_log, const fettle::log_table& log, const std::string& name) {
  const auto check = [&](const std::string& column) {
    if (const auto* values = log.find(column)) refuse_ratio(*values, column, during_log.stoichiometric_afr, name);
  };
  check("lambda_target");
  for (const auto& sensor : during_log.sensors)
    if (sensor.is_fitted) check(sensor.column);
}

void refuse_hundredths(const fettle::map_file& base, const fettle::log_table& log, const std::string& name) {
  for (std::size_t a = 0; a < base.axis_names.size(); ++a) {
    const auto* values = log.find(base.axis_names[a]);
    if (values == nullptr) continue;
    const auto ordered = sorted(*values);
    const auto& points = base.table.axes()[a].points();
    if (ordered.empty()) continue;
    const std::size_t aside = ordered.size() / 100;
    const double low = ordered[aside], high = ordered[ordered.size() - 1 - aside];
    constexpr double hundredth = 0.015;
    if (std::max(std::abs(low), std::abs(high)) > hundredth * std::abs(points.back())) continue;
    throw fettle::error(
        fmt::format("{}: {} runs from {:g} to {:g} in this log, on an axis from {:g} to {:g}; if the log counts in "
                    "hundredths, give {} a factor of 100 in the session's /columns; if the engine only idled, "
                    "--write-anyway goes on",
                    name, base.axis_names[a], low, high, points.front(), points.back(), base.axis_names[a]));
  }
}

}  // namespace session

// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <string>

#include "common/session/cell_name.hpp"
#include "common/session/judge_scatter.hpp"
#include "common/session/judge_search.hpp"
#include "correct_map/outcome.hpp"
#include "fettle/lambda.hpp"

namespace correct_map::detail {

/// Unit of a parameter of the dynamics, by its name; empty: a number or a fraction.
[[nodiscard]] inline std::string unit_of(const std::string& parameter) {
  if (parameter.starts_with("film time,") || parameter.starts_with("lag") || parameter.starts_with("latency"))
    return "s";
  return parameter.starts_with("pipe gas mass") ? "g" : "";
}

/// A value of a parameter with its unit.
[[nodiscard]] inline std::string with_unit(const std::string& parameter, double value) {
  const std::string unit = unit_of(parameter);
  return fmt::format("{:.4g}{}{}", value, unit.empty() ? "" : " ", unit);
}

/// Calls out the cells whose readings ask for more fuel, but were of little flow, which may read as lean by itself.
inline void add_low_flow_remark(outcome& result) {
  std::size_t count = 0, worst = 0;
  double most = 0;
  for (std::size_t k = 0; k < result.evidence.size(); ++k) {
    const double more = result.evidence[k].correction - 1;
    if (!(result.evidence[k].false_lean > 0 && result.evidence[k].passes > 0 && more > result.limits.lean_tolerance))
      continue;
    ++count;
    if (more > most) most = more, worst = k;
  }
  if (count == 0) return;
  result.remarks.push_back(fmt::format(
      "readings at little exhaust flow ask for more fuel in {} cell{}, up to {:.1f} % at {}; outside air that reaches "
      "the sensor there reads as lean, so up to {:.0f} % was not followed: judge by how the engine runs",
      count, count == 1 ? "" : "s", 100 * most, session::cell_name(result.base, worst), 100 * fettle::false_lean(0)));
}

/// Calls out banks that surely deliver something else than their description says.
inline void add_flow_remarks(outcome& result) {
  const auto& banks = result.session.banks;
  for (std::size_t b = 0; b < banks.size(); ++b)
    for (const auto& parameter : result.identified.parameters) {
      const double more = parameter.value - 1;
      if (parameter.prior.name != result.identified.with.banks[b].flow.name ||
          std::abs(more) < 2 * parameter.relative_error)
        continue;
      result.remarks.push_back(
          fmt::format("bank {} delivers {:.1f} % {} than its description, to within {:.1f} %; the corrected map allows "
                      "for that with the share map as it is; before the shares change, put flow_mg_ms {:.4g} into "
                      "session and controller, and correct the map again",
                      banks[b].name, 100 * std::abs(more), more > 0 ? "more" : "less", 200 * parameter.relative_error,
                      banks[b].flow_mg_ms * parameter.value));
    }
}

/// Calls out sensors and logs that say otherwise than the rest, by more than sensors and weather differ.
inline void add_contradictions(outcome& result) {
  constexpr double unusual = 2, contradicts = 3.5;  // prior standard deviations
  const auto call_out = [&](const std::string& name, double level, double spread, double deviations) {
    if (deviations < unusual) return;
    (deviations < contradicts ? result.remarks : result.objections)
        .push_back(
            fmt::format("{} reads {:.1f} % {} than the rest, where {:g} % is usual: a sensor, fuel, air columns or "
                        "loaded map that is not as described",
                        name, 100 * std::abs(level - 1), level > 1 ? "richer" : "leaner", 100 * spread));
  };
  for (const auto& gain : result.identified.gains)
    call_out(gain.prior.name.substr(gain.prior.name.find(", ") + 2).insert(0, "sensor "), gain.value / gain.prior.value,
             gain.prior.spread, gain.deviations());
  for (const auto& log : result.identified.log_levels)
    call_out("log " + log.name, log.level, log.spread, log.deviations());
}

inline void add_remarks(outcome& result) {
  for (const auto& parameter : result.identified.parameters) {
    const bool is_flow =
        parameter.prior.name.starts_with("flow");  // else its description stands, as without these logs
    if (parameter.identified_share < 0.5 && !is_flow)
      result.remarks.push_back(fmt::format(
          "{} could not be identified from these logs and stays near the session's {}; {}", parameter.prior.name,
          with_unit(parameter.prior.name, parameter.prior.value),
          parameter.prior.name.starts_with("film")
              ? "to identify it, open and close the throttle quickly at steady speeds where this bank injects"
              : "to identify it, drive quick throttle changes at low and at high speed"));
    const bool at_bound =
        parameter.value <= parameter.prior.lowest * 1.001 || parameter.value >= parameter.prior.highest * 0.999;
    if (at_bound)
      result.remarks.push_back(
          fmt::format("{} ended at its bound {}: the logs contradict the model here; check columns, "
                      "banks and sensor before trusting this map",
                      parameter.prior.name, with_unit(parameter.prior.name, parameter.value)));
  }
  for (const auto& pair : result.identified.correlated)
    result.remarks.push_back(
        fmt::format("{} and {} move together in these logs (correlation {:.2f}): their joint effect is "
                    "identified, each alone is not",
                    pair.first, pair.second, pair.correlation));
  const auto scatter = session::judge_scatter(result.session, result.identified);
  result.objections.insert(result.objections.end(), scatter.objections.begin(), scatter.objections.end());
  result.remarks.insert(result.remarks.end(), scatter.remarks.begin(), scatter.remarks.end());
  const auto search = session::judge_search(result.identified);
  result.remarks.insert(result.remarks.end(), search.begin(), search.end());
}

}  // namespace correct_map::detail

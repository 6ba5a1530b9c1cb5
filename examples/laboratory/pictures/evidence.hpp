// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <nlohmann/json.hpp>
#include <vector>

#include "fettle/lambda.hpp"
#include "laboratory/pictures/invented_drive.hpp"

namespace laboratory {

/// What is known of the map after the first minutes of a drive, and what may be changed on that evidence.
///
/// Question: seed of the car and driver; minutes, from 0.3 to 6; margin_errors, how many standard errors short of the
///           estimate leaning stops.
/// Answer:   axes; per cell state, applied_pct, needs_pct, error_pct and seconds driven; driven_rpm and
///           driven_throttle_pct, ten points a second up to now; cells, how many are in each state; rows that count.
[[nodiscard]] inline nlohmann::json evidence(const nlohmann::json& question) {
  constexpr double whole_minutes = 6;
  const double minutes = std::clamp(question.at("minutes").get<double>(), 0.3, whole_minutes);
  const invented_drive& drive = driven_once(question.at("seed"), whole_minutes, 1.15);
  const auto rows = (std::min)(drive.log.rows(), static_cast<std::size_t>(std::lround(6000 * minutes)));

  // [evidence]
  const auto identified = fettle::identify({drive.log.part(0, rows)}, drive.base,
                                           session::make_dynamics(drive.session, session::path_trust::prior));
  const auto seen = fettle::evidence_of(identified);
  const auto decided = fettle::decide(seen, {.margin_errors = question.at("margin_errors").get<double>()});
  // [/evidence]

  nlohmann::json result{{"axes", axes_json(drive.base)}, {"state", state_names(decided)}};
  result["applied_pct"] = as_pct(decided.applied);
  std::vector<double> needs_pct, error_pct, seconds, rpm, throttle_pct;
  for (const auto& cell : seen) {
    needs_pct.push_back(100 * (cell.correction - 1));
    error_pct.push_back(100 * cell.standard_error);
    seconds.push_back(cell.seconds);
  }
  for (std::size_t i = 0; i < rows; i += 10) {
    rpm.push_back(drive.log.at[0][i]);
    throttle_pct.push_back(drive.log.at[1][i]);
  }
  result["needs_pct"] = needs_pct;
  result["error_pct"] = error_pct;
  result["seconds"] = seconds;
  result["driven_rpm"] = rpm;
  result["driven_throttle_pct"] = throttle_pct;
  for (const auto state : report::cell_states) result["cells"][report::key_of(state)] = decided.cells(state).size();
  result["rows"] = identified.rejected[0][fettle::rejection::none];
  return result;
}

}  // namespace laboratory

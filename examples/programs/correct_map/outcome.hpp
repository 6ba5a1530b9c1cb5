// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <string>
#include <vector>

#include "common/session/cells_by.hpp"
#include "common/session/recording.hpp"
#include "common/session/session.hpp"
#include "fettle/io/map_file.hpp"
#include "fettle/lambda.hpp"

namespace correct_map {

/// What a run may do beyond what its session says.
struct run_options {
  session::path_trust trust = session::path_trust::prior;
  fettle::undriven_cells undriven = fettle::undriven_cells::follow_if_surely_lean;
  bool writes_anyway = false;  ///< a map that must not be loaded is written all the same
  std::size_t threads = 1;     ///< that share the work
  std::size_t visits = 60;     ///< points of the plan of the next drive; some ten minutes
};

/// Everything that one run found; what terminal, files and report are made from.
struct outcome {
  session::session session;
  run_options options;
  fettle::map_file base;
  fettle::identification identified;
  std::vector<fettle::cell_evidence> evidence;  ///< per cell of the map, as the decision saw it
  fettle::decision_limits limits;
  fettle::decision decided;
  std::vector<double> corrected;                ///< per cell: the new value, as it is written
  std::vector<fettle::forecast> forecasts;      ///< one per log, of the first sensor fitted in it
  std::vector<double> usage;                    ///< per cell: what the plan goes by
  std::vector<fettle::drive_leg> plan;          ///< where to drive next
  std::vector<fettle::lean_place> lean_places;  ///< where readings stay over 3 % lean between the breakpoints
  std::vector<std::string> lean_stays;          ///< sensors that stood at their lean end
  std::vector<std::size_t> unseen_cylinders;    ///< whose exhaust passes no sensor
  std::vector<std::string> objections;          ///< why the map must not be loaded; empty: it may
  std::vector<std::string> remarks;             ///< what could not be identified, and what to do about it
  std::size_t rows = 0;
  double minutes = 0;

  /// Root mean square over all logs of one series of the forecasts.
  [[nodiscard]] double rms_of(std::vector<double> fettle::forecast::*series) const {
    double squares = 0, count = 0;
    for (const auto& log : forecasts) {
      const double size = static_cast<double>((log.*series).size()), root = fettle::rms(log.*series);
      squares += size * root * root;
      count += size;
    }
    return count > 0 ? std::sqrt(squares / count) : 0;
  }
  [[nodiscard]] std::size_t count(fettle::cell_state which) const { return decided.cells(which).size(); }
  /// Fuel that a cell needs over what it has, in percent.
  [[nodiscard]] double needs_pct(std::size_t cell) const { return 100 * (evidence[cell].correction - 1); }
  /// Fuel that it gets, in percent of what it has.
  [[nodiscard]] double gets_pct(std::size_t cell) const { return 100 * (decided.applied[cell] - 1); }
  /// Fuel that it still needs with the new map, in percent of that; above 0 it is lean.
  [[nodiscard]] double left_pct(std::size_t cell) const {
    return 100 * (evidence[cell].correction / decided.applied[cell] - 1);
  }
  [[nodiscard]] double error_pct(std::size_t cell) const { return 100 * evidence[cell].standard_error; }
  /// Whether a driven cell reads lean with the new map, but had so little exhaust flow that it need not be.
  [[nodiscard]] bool reads_lean_at_little_flow() const {
    for (std::size_t k = 0; k < evidence.size(); ++k)
      if (evidence[k].passes > 0 && evidence[k].false_lean > 0 && !stays_lean(k) &&
          evidence[k].correction > decided.applied[k] * (1 + limits.lean_tolerance))
        return true;
    return false;
  }
  [[nodiscard]] bool stays_lean(std::size_t cell) const {
    return decided.state[cell] == fettle::cell_state::still_lean;
  }
  /// Cells that need more than they got, the leanest first.
  [[nodiscard]] std::vector<std::size_t> lean_cells() const {
    return session::cells_by(
        evidence.size(), [&](std::size_t k) { return stays_lean(k); }, [&](std::size_t k) { return left_pct(k); });
  }
  /// How many driven cells may be expected to be left leaner than this, as a fraction, by the estimate and its errors.
  [[nodiscard]] double expected_lean(double leaner_than) const {
    double sum = 0;
    for (std::size_t k = 0; k < evidence.size(); ++k)
      if (evidence[k].passes > 0) sum += chance_of_lean(k, leaner_than);
    return sum;
  }
  [[nodiscard]] double chance_of_lean(std::size_t cell, double leaner_than) const {
    const auto& known = evidence[cell];
    const double left = std::log(known.correction / decided.applied[cell]) - std::log1p(leaner_than);
    return 0.5 * std::erfc(-left / (std::hypot(known.standard_error, known.common_error) * std::sqrt(2.0)));
  }
  [[nodiscard]] std::size_t driven_cells() const {
    return static_cast<std::size_t>(
        std::count_if(evidence.begin(), evidence.end(), [](const auto& cell) { return cell.passes > 0; }));
  }
  [[nodiscard]] std::size_t changed_cells() const {
    return static_cast<std::size_t>(
        std::count_if(decided.applied.begin(), decided.applied.end(), [](double x) { return x != 1; }));
  }
  [[nodiscard]] bool writes_map() const { return objections.empty() || options.writes_anyway; }
  /// 3: the map must not be loaded.
  [[nodiscard]] int exit_code() const { return objections.empty() ? 0 : 3; }
};

}  // namespace correct_map

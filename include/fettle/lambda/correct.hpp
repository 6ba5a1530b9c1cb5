// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <vector>

#include "fettle/error.hpp"
#include "fettle/lambda/identify.hpp"
#include "fettle/map/dynamic_table.hpp"

namespace fettle {

/// What a correction did with a cell.
enum class cell_state : std::uint8_t {
  changed,  ///< by what the evidence asks for, or only a part of it where its standard error is large
  limited,  ///< by as much as the authority of one pass allows, which is less than the evidence asks for
  held,     ///< left as it was: the evidence is too thin, or its readings contradict each other
  unknown,  ///< left as it was: no reading came near
};

/// How far one pass may go, and on what evidence.
struct correction_limits {
  double richer = 0.15;          ///< most fuel added to a cell, as a fraction of it
  double leaner = 0.05;          ///< most fuel taken from a cell: less, because a lean cell costs an engine
  double fewest_readings = 20;   ///< sum of interpolation weights below which a cell is held
  double least_agreement = 0.6;  ///< mean robust weight of a cell's readings below which it is held
  double largest_error = 0.02;   ///< standard error of the correction above which a cell is held
};

/// A corrected map and what was done to get it.
struct map_correction {
  dynamic_table<double> map;
  std::vector<double> applied;     ///< per cell: new value over old
  std::vector<double> confidence;  ///< per cell: share of the evidence's wish that was followed, 0 .. 1
  std::vector<cell_state> state;

  [[nodiscard]] std::vector<std::size_t> cells(cell_state which) const {
    std::vector<std::size_t> result;
    for (std::size_t k = 0; k < state.size(); ++k)
      if (state[k] == which) result.push_back(k);
    return result;
  }
};

/// Applies what the logs say to the cells that they support, within the authority of one pass.
///
/// A cell's correction is followed fully up to half the largest error, then less and less, not at all beyond it: no
/// cell jumps because its evidence crosses a threshold. A cell is never leaned beyond its authority, whatever the
/// evidence.
///
/// Errors: `fettle::error` when the identification is about another number of cells, or a limit has no meaning.
[[nodiscard]] inline map_correction correct(const dynamic_table<double>& base, const identification& found,
                                            const correction_limits& limits = {}) {
  if (found.correction.size() != base.size())
    throw error("correct: the identification is about another number of cells than the map");
  if (!(limits.richer >= 0 && limits.leaner >= 0 && limits.leaner < 1 && limits.largest_error > 0))
    throw error("correct: authority must be at least 0 (lean-ward below 1) and the largest error above 0");
  map_correction result{.map = base,
                        .applied = std::vector<double>(base.size(), 1.0),
                        .confidence = std::vector<double>(base.size(), 0.0),
                        .state = std::vector<cell_state>(base.size(), cell_state::unknown)};
  for (std::size_t k = 0; k < base.size(); ++k) {
    const double error = found.standard_error[k];
    if (!(found.readings[k] > 0)) continue;
    result.state[k] = cell_state::held;
    if (!(found.readings[k] >= limits.fewest_readings && found.agreement[k] >= limits.least_agreement &&
          error < limits.largest_error && std::isfinite(found.correction[k])))
      continue;
    result.confidence[k] = (std::min)(1.0, 2 * (1 - error / limits.largest_error));
    const double wished = 1 + result.confidence[k] * (found.correction[k] - 1);
    result.applied[k] = std::clamp(wished, 1 - limits.leaner, 1 + limits.richer);
    result.state[k] = result.applied[k] == wished ? cell_state::changed : cell_state::limited;
    result.map.values()[k] = base.values()[k] * result.applied[k];
  }
  return result;
}

}  // namespace fettle

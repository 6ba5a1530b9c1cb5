// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/format.h>

#include <cmath>
#include <cstddef>
#include <filesystem>
#include <string>
#include <system_error>
#include <utility>
#include <vector>

#include "common/session/cells_by.hpp"
#include "common/session/session.hpp"
#include "common/session/trim_maps.hpp"
#include "correct_map/job.hpp"
#include "fettle/error.hpp"
#include "fettle/io/map_csv.hpp"
#include "fettle/lambda/compare_passes.hpp"

namespace compare_passes {

/// Two passes of one engine beside each other.
struct step {
  correct_map::outcome earlier, later;  ///< what the logs before and after the correction say, each by themselves
  std::vector<double> applied;          ///< per cell: fuel of the later pass over that of the earlier one
  fettle::pass_comparison compared;

  /// Root mean square of a part over the cells that were compared, in percent, each by the seconds of the later pass.
  [[nodiscard]] double rms_pct(double fettle::pass_cell::*part) const {
    double squares = 0, seconds = 0;
    for (std::size_t k = 0; k < compared.cells.size(); ++k) {
      if (compared.cells[k].verdict == fettle::pass_verdict::not_compared) continue;
      squares += later.evidence[k].seconds * std::pow(compared.cells[k].*part, 2);
      seconds += later.evidence[k].seconds;
    }
    return seconds > 0 ? 100 * std::sqrt(squares / seconds) : 0;
  }
  /// Cells that ended further from their target than predicted, the leanest first.
  [[nodiscard]] std::vector<std::size_t> worse_cells() const {
    return leanest_first([&](std::size_t k) { return compared.cells[k].verdict == fettle::pass_verdict::worse; });
  }
  /// Driven cells that are surely more than 2 % lean on the new map, the leanest first.
  [[nodiscard]] std::vector<std::size_t> lean_cells() const {
    return leanest_first([&](std::size_t k) {
      return later.evidence[k].passes > 0 && compared.cells[k].shown - later.evidence[k].standard_error > 0.02;
    });
  }

 private:
  template <class Keep>
  [[nodiscard]] std::vector<std::size_t> leanest_first(Keep keep) const {
    return session::cells_by(compared.cells.size(), keep, [&](std::size_t k) { return compared.cells[k].shown; });
  }
};

/// All passes of an engine, each beside the one before.
struct outcome {
  std::vector<step> steps;  ///< at least one
  [[nodiscard]] const step& last() const { return steps.back(); }
};

namespace detail {

/// The logs that a session's own map was loaded for: those that name no other.
[[nodiscard]] inline session::session driven_on_its_map(session::session whole) {
  std::vector<std::filesystem::path> paths;
  std::vector<session::log_facts> facts;
  for (std::size_t l = 0; l < whole.log_paths.size(); ++l) {
    std::error_code missing;  // a map that is not there is refused by its reader
    const auto& loaded = whole.facts[l].loaded_map_path;
    if (!loaded.empty() && !std::filesystem::equivalent(loaded, whole.map_path, missing)) continue;
    paths.push_back(whole.log_paths[l]);
    facts.push_back(whole.facts[l]);
  }
  if (paths.empty())
    throw fettle::error(fmt::format(
        "{}: names no log that was driven on {}; expected at least one log of the session without another \"map\"",
        whole.path.string(), whole.map_path.string()));
  whole.log_paths = std::move(paths);
  whole.facts = std::move(facts);
  return whole;
}

[[noreturn]] inline void refuse_pair(const session::session& a, const session::session& b, const std::string& what) {
  throw fettle::error(fmt::format("{} and {}: {}", a.path.string(), b.path.string(), what));
}

/// Two sessions that are about one engine.
inline void require_one_engine(const session::session& a, const session::session& b) {
  if (a.cylinders != b.cylinders || a.displacement_l != b.displacement_l)
    refuse_pair(
        a, b,
        fmt::format("are about two engines, of {} cylinders and {:g} l and of {} cylinders and {:g} l; expected "
                    "two passes of one",
                    a.cylinders, a.displacement_l, b.cylinders, b.displacement_l));
  if (a.virtual_engine_seed != b.virtual_engine_seed)
    refuse_pair(a, b, "are about two virtual engines: /virtual_engine/seed differs; expected two passes of one");
}

/// Two sessions whose maps are on one grid.
inline void require_one_grid(const session::session& a, const session::session& b) {
  const fettle::map_file first = fettle::read_map_csv(a.map_path), second = fettle::read_map_csv(b.map_path);
  if (first.axis_names != second.axis_names || first.table.axes() != second.table.axes())
    refuse_pair(a, b,
                fmt::format("their maps {} and {} have other axes; expected a map and its correction",
                            a.map_path.string(), b.map_path.string()));
}

/// What the trims of a session make of the fuel of a cell of its map, mean of the cylinders.
[[nodiscard]] inline double mean_trim(const correct_map::outcome& pass, const session::trim_maps& trims,
                                      std::size_t cell) {
  double sum = trims.empty() ? 1 : 0;
  for (std::size_t i = 0; i < trims.size(); ++i)
    sum += session::trim_at_cell(trims[i], pass.session.trims.map_paths[i], pass.base, cell) /
           static_cast<double>(trims.size());
  return sum;
}

[[nodiscard]] inline step compare(session::session earlier, session::session later,
                                  const correct_map::stage_progress& progress) {
  const auto part = [&](const char* pass, double begin) {
    return [&progress, pass, begin](const std::string& stage, double fraction) {
      progress(fmt::format("{}: {}", pass, stage), begin + fraction / 2);
    };
  };
  step result{.earlier = correct_map::run(std::move(earlier), {}, part("earlier pass", 0)),
              .later = correct_map::run(driven_on_its_map(std::move(later)), {}, part("later pass", 0.5)),
              .applied = {},
              .compared = {}};
  const auto before = result.earlier.base.table.values(), after = result.later.base.table.values();
  const auto trims_before = session::read_trims(result.earlier.session.trims.map_paths),
             trims_after = session::read_trims(result.later.session.trims.map_paths);
  for (std::size_t k = 0; k < before.size(); ++k)
    result.applied.push_back(after[k] * mean_trim(result.later, trims_after, k) /
                             (before[k] * mean_trim(result.earlier, trims_before, k)));
  result.compared = fettle::compare_passes(result.earlier.evidence, result.applied, result.later.evidence);
  return result;
}

}  // namespace detail

/// Compares what the logs of a session predicted with what the logs of the next session show.
///
/// @param sessions  two or more, in the order of the passes. All logs of a session predict; those that were driven on
///                  its own map show.
/// Errors: `fettle::error` with one message that names the file and place; nothing is written here.
[[nodiscard]] inline outcome run(const std::vector<session::session>& sessions,
                                 const correct_map::stage_progress& progress) {
  for (std::size_t i = 0; i + 1 < sessions.size(); ++i) {  // before the work, not after it
    detail::require_one_engine(sessions[i], sessions[i + 1]);
    detail::require_one_grid(sessions[i], sessions[i + 1]);
  }
  outcome result;
  const double steps = static_cast<double>(sessions.size()) - 1;
  for (std::size_t i = 0; i + 1 < sessions.size(); ++i)
    result.steps.push_back(
        detail::compare(sessions[i], sessions[i + 1], [&](const std::string& stage, double fraction) {
          progress(stage, (static_cast<double>(i) + fraction) / steps);
        }));
  return result;
}

}  // namespace compare_passes

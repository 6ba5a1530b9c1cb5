// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/format.h>

#include <algorithm>
#include <cstddef>
#include <string>

#include "common/report/verdict.hpp"
#include "common/session/cell_name.hpp"
#include "correct_map/job.hpp"

namespace correct_map {

/// "1 cell", "2 cells".
[[nodiscard]] inline std::string cells_in_words(std::size_t count) {
  return fmt::format("{} cell{}", count, count == 1 ? "" : "s");
}

namespace detail {

[[nodiscard]] inline std::string what_to_load(const outcome& result, const std::string& map_file) {
  if (!result.writes_map())
    return "NOTHING. This map must not be loaded, and none was written; --write-anyway writes it all the same.";
  if (!result.objections.empty())
    return fmt::format("NOTHING. {} was written because you asked for it, but must not be loaded.", map_file);
  const std::size_t changed = result.changed_cells();
  return changed == 0 ? fmt::format("nothing new: {} is the map as it was, to the last digit", map_file)
                      : fmt::format("{} ({} changed)", map_file, cells_in_words(changed));
}

[[nodiscard]] inline std::string is_it_safe(const outcome& result) {
  if (!result.objections.empty())
    return fmt::format("NO. {}.{}", result.objections.front(),
                       result.objections.size() == 1 ? "" : fmt::format(" And {} more.", result.objections.size() - 1));
  const auto lean = result.lean_cells();
  if (lean.empty())
    return fmt::format(
        "yes, as far as these logs tell: no cell that was driven stays more than {:g} % lean{}. {} not driven.",
        100 * result.limits.lean_tolerance,
        result.reads_lean_at_little_flow() ? ", except where readings at little exhaust flow may be falsely lean" : "",
        cells_in_words(result.count(fettle::cell_state::not_driven)));
  const std::size_t worst = lean.front();
  return fmt::format("NO. {} stay{} lean; the worst, {}, needs {:.0f} % more fuel and got {:.0f} %.",
                     cells_in_words(lean.size()), lean.size() == 1 ? "s" : "", session::cell_name(result.base, worst),
                     result.needs_pct(worst), result.gets_pct(worst));
}

/// Whether one pass took away less fuel than is surely too much.
[[nodiscard]] inline std::size_t leaned_to_the_limit(const outcome& result) {
  return static_cast<std::size_t>(
      std::count_if(result.decided.applied.begin(), result.decided.applied.end(),
                    [&](double applied) { return applied < 1 && applied <= 1 - result.limits.leaner; }));
}

[[nodiscard]] inline std::string what_to_do_next(const outcome& result) {
  if (!result.objections.empty()) return "find out what does not belong together, put it right, and run this again.";
  const std::string where = result.plan.empty() ? "" : where_to_drive(result.plan.front(), result.base.axis_names);
  if (const std::size_t lean = result.lean_cells().size(); lean > 0)
    return fmt::format("enrich {} by hand, load, drive there gently, and run this on the new log.",
                       lean == 1 ? "this cell" : fmt::format("these {} cells", lean));
  if (const std::size_t limit = leaned_to_the_limit(result); limit > 0)
    return fmt::format("load, confirm, drive again: {} may go leaner still, by {:g} % in one pass.",
                       cells_in_words(limit), 100 * result.limits.leaner);
  return where.empty() ? "load, and confirm with an independent measurement." : "load, then drive " + where + ".";
}

}  // namespace detail

/// What to load, whether it is safe, what to do next.
///
/// @param map_file  the corrected map as its reader finds it.
[[nodiscard]] inline report::verdict verdict_of(const outcome& result, const std::string& map_file) {
  return {.load = detail::what_to_load(result, map_file),
          .safe = detail::is_it_safe(result),
          .next = detail::what_to_do_next(result),
          .is_safe = result.objections.empty() && result.lean_cells().empty()};
}

}  // namespace correct_map

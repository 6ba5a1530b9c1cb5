// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cstddef>
#include <numeric>
#include <string>
#include <utility>
#include <vector>

#include "common/report/verdict.hpp"
#include "common/session/cell_name.hpp"
#include "correct_map/job.hpp"
#include "correct_map/plan_words.hpp"

namespace correct_map {

/// "1 cell", "2 cells".
[[nodiscard]] inline std::string cells_in_words(std::size_t count) {
  return fmt::format("{} cell{}", count, count == 1 ? "" : "s");
}

namespace detail {

inline constexpr double very_lean = 0.03;  ///< a mixture this much leaner than its target, as a fraction, is a risk
inline constexpr double most_lean_share = 0.1;  ///< of the driven cells that may be so by the errors of the estimate
inline constexpr double least_driving_s = 10;   ///< below which the errors themselves are not to be trusted

[[nodiscard]] inline std::string what_to_load(const outcome& result, const std::string& map_file) {
  if (!result.writes_map())
    return "NOTHING. This map must not be loaded, and none was written; --write-anyway writes it all the same.";
  if (!result.objections.empty())
    return fmt::format("NOTHING. {} was written because you asked for it, but must not be loaded.", map_file);
  const std::size_t changed = result.changed_cells();
  return changed == 0 ? fmt::format("nothing new: {} is the map as it was, to the last digit", map_file)
                      : fmt::format("{} ({} changed)", map_file, cells_in_words(changed));
}

/// A way in which the engine may run lean with the new map, and what to do about it.
struct danger {
  std::string what, next;
};

inline void add_lean_cells(const outcome& result, std::vector<danger>& all) {
  const auto lean = result.lean_cells();
  if (lean.empty()) return;
  const std::size_t worst = lean.front();
  all.push_back({fmt::format("{} stay{} lean; the worst, {}, needs {:.0f} % more fuel and got {:.0f} %",
                             cells_in_words(lean.size()), lean.size() == 1 ? "s" : "",
                             session::cell_name(result.base, worst), result.needs_pct(worst), result.gets_pct(worst)),
                 fmt::format("enrich {} by hand, load, drive there gently, and run this on the new log.",
                             lean.size() == 1 ? "this cell" : fmt::format("these {} cells", lean.size()))});
}

inline void add_lean_places(const outcome& result, std::vector<danger>& all) {
  if (result.lean_places.empty()) return;
  const auto& worst = result.lean_places.front();
  std::string where;
  for (std::size_t a = 0; a < worst.at.size(); ++a)
    where += fmt::format("{}{} {:g}", where.empty() ? "" : ", ", result.base.axis_names[a], worst.at[a]);
  const std::size_t more = result.lean_places.size() - 1;
  all.push_back(
      {fmt::format("near {} the readings stay {:.0f} % lean{}: what the engine needs is no straight line between "
                   "breakpoints that far apart",
                   where, 100 * worst.lambda_error, more > 0 ? fmt::format(", and in {} more places", more) : ""),
       "add breakpoints there, and run this again."});
}

inline void add_unknown(const outcome& result, std::vector<danger>& all) {
  const double driven_s = std::accumulate(result.identified.seconds.begin(), result.identified.seconds.end(), 0.0);
  const double lean = result.expected_lean(very_lean);
  if (driven_s < least_driving_s)
    all.push_back({fmt::format("the logs hold {:.1f} s of driving, which is too little to tell", driven_s),
                   "drive for some minutes, and run this on that log."});
  else if (lean > most_lean_share * static_cast<double>(result.driven_cells()))
    all.push_back(
        {fmt::format("the logs do not tell enough: by its errors, the estimate leaves about {:.0f} of {} driven "
                     "cells over {:g} % lean",
                     lean, result.driven_cells(), 100 * very_lean),
         "load, drive gently where the plan says, and run this on the new log."});
}

/// Why the engine may still run lean with this map, the gravest first; empty: by these logs it does not.
[[nodiscard]] inline std::vector<danger> dangers(const outcome& result) {
  std::vector<danger> all;
  for (const auto& stay : result.lean_stays) all.push_back({stay, "find out which, before anything is loaded."});
  add_lean_cells(result, all);
  if (const auto& unseen = result.unseen_cylinders; !unseen.empty())
    all.push_back({fmt::format("no sensor sees cylinder{} {}, which may be leaner than the others",
                               unseen.size() == 1 ? "" : "s", fmt::join(unseen, ", ")),
                   "see all cylinders first, with a sensor after the collector or one in each pipe."});
  add_lean_places(result, all);
  add_unknown(result, all);
  return all;
}

[[nodiscard]] inline std::string no_because(const std::string& first, std::size_t reasons) {
  return fmt::format("NO. {}.{}", first, reasons == 1 ? "" : fmt::format(" And {} more.", reasons - 1));
}

[[nodiscard]] inline std::string is_it_safe(const outcome& result) {
  if (!result.objections.empty()) return no_because(result.objections.front(), result.objections.size());
  if (const auto all = dangers(result); !all.empty()) return no_because(all.front().what, all.size());
  return fmt::format(
      "yes, as far as these logs tell: by the estimate no driven cell stays more than {:g} % lean{}; by its errors, "
      "about "
      "{:.0f} of {} may be over {:g} % lean. {} not driven.",
      100 * result.limits.lean_tolerance,
      result.reads_lean_at_little_flow() ? ", except where readings at little exhaust flow may be falsely lean" : "",
      result.expected_lean(very_lean), result.driven_cells(), 100 * very_lean,
      cells_in_words(result.count(fettle::cell_state::not_driven)));
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
  if (const auto all = dangers(result); !all.empty()) return all.front().next;
  if (const std::size_t limit = leaned_to_the_limit(result); limit > 0)
    return fmt::format("load, confirm, drive again: {} may go leaner still, by {:g} % in one pass.",
                       cells_in_words(limit), 100 * result.limits.leaner);
  return where.empty() ? "load, and confirm with an independent measurement." : "load, then drive " + where + ".";
}

}  // namespace detail

/// Why the engine may still run lean with the new map, in whole sentences without a stop, the gravest first.
[[nodiscard]] inline std::vector<std::string> dangers_in_words(const outcome& result) {
  std::vector<std::string> words;
  for (auto& danger : detail::dangers(result)) words.push_back(std::move(danger.what));
  return words;
}

/// What to load, whether it is safe, what to do next.
///
/// @param map_file  the corrected map as its reader finds it.
[[nodiscard]] inline report::verdict verdict_of(const outcome& result, const std::string& map_file) {
  return {.load = detail::what_to_load(result, map_file),
          .safe = detail::is_it_safe(result),
          .next = detail::what_to_do_next(result),
          .is_safe = result.objections.empty() && detail::dangers(result).empty()};
}

}  // namespace correct_map

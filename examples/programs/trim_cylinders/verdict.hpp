// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <string>
#include <vector>

#include "common/report/verdict.hpp"
#include "trim_cylinders/job.hpp"

namespace trim_cylinders {

/// One cylinder in one cell of the trim maps.
struct trim_cell {
  std::size_t cylinder, cell;  ///< both counted from 0
};

/// Trims that need more than they got, the leanest first.
[[nodiscard]] inline std::vector<trim_cell> lean_trims(const outcome& result) {
  std::vector<trim_cell> lean;
  for (std::size_t i = 0; i < result.cylinders(); ++i)
    for (const std::size_t k : result.loaded[i].cells(fettle::cell_state::still_lean)) lean.push_back({i, k});
  const auto left = [&](const trim_cell& trim) {
    return result.trims.correction[trim.cylinder][trim.cell] / result.loaded[trim.cylinder].applied[trim.cell];
  };
  std::stable_sort(lean.begin(), lean.end(), [&](const trim_cell& a, const trim_cell& b) { return left(a) > left(b); });
  return lean;
}

namespace detail {

[[nodiscard]] inline std::string what_to_load(const outcome& result, const std::string& folder) {
  if (!result.writes_trims())
    return "NOTHING. These trims must not be loaded, and none were written; --write-anyway writes them all the same.";
  if (!result.objections.empty())
    return "NOTHING. The trims were written because you asked for them, but must not be loaded.";
  std::size_t changed = 0, all = 0;
  for (const auto& cylinder : result.loaded) {
    all += cylinder.applied.size();
    changed += static_cast<std::size_t>(
        std::count_if(cylinder.applied.begin(), cylinder.applied.end(), [](double x) { return x != 1; }));
  }
  return fmt::format("{}trim_cylinder_1.csv to trim_cylinder_{}.csv ({} of {} cells changed)", folder,
                     result.cylinders(), changed, all);
}

/// Where a cylinder stays leanest against its target with the trims loaded; none: the engine never ran.
[[nodiscard]] inline const fettle::region* leanest_after(const outcome& result) {
  const auto over = [](const fettle::region& here) { return here.leanest_after / here.target_lambda; };
  const auto worst = std::max_element(result.regions.begin(), result.regions.end(),
                                      [&](const auto& a, const auto& b) { return over(a) < over(b); });
  return worst == result.regions.end() ? nullptr : &*worst;
}

[[nodiscard]] inline std::string is_it_safe(const outcome& result, bool& is_safe) {
  is_safe = false;
  if (!result.objections.empty())
    return fmt::format("NO. {}.{}", result.objections.front(),
                       result.objections.size() == 1 ? "" : fmt::format(" And {} more.", result.objections.size() - 1));
  if (!result.lean_stays.empty())
    return "NO. " + result.lean_stays.front() + ": find out which, before anything is loaded.";
  const auto* worst = leanest_after(result);
  if (worst && worst->leanest_after > worst->target_lambda * (1 + result.alarm.lean_alarm))
    return fmt::format("NO. With these trims a cylinder still runs at lambda {:.3f} {}, target {:.3f}.",
                       worst->leanest_after, result.at_place(worst->cell), worst->target_lambda);
  if (const auto lean = lean_trims(result); !lean.empty())
    return fmt::format("NO. {} trim{} lean; the worst, cylinder {} {}, needs {:.1f} % more fuel and got {:.1f} %.",
                       lean.size(), lean.size() == 1 ? " stays" : "s stay", lean[0].cylinder + 1,
                       result.at_place(lean[0].cell), result.needs_pct(lean[0].cylinder, lean[0].cell),
                       result.gets_pct(lean[0].cylinder, lean[0].cell));
  is_safe = true;
  return fmt::format(
      "as far as these logs tell: no cylinder stays more than {:g} % above its target where it was "
      "measured.",
      100 * result.alarm.lean_alarm);
}

}  // namespace detail

/// What to load, whether it is safe, what to do next.
///
/// @param folder  of the trims as its reader finds it, with a slash behind it; empty: this one.
[[nodiscard]] inline report::verdict verdict_of(const outcome& result, const std::string& folder) {
  report::verdict verdict{.load = detail::what_to_load(result, folder), .safe = {}, .next = {}};
  verdict.safe = detail::is_it_safe(result, verdict.is_safe);
  verdict.next = !result.objections.empty()
                     ? "find out what does not belong together, put it right, and run this again."
                 : result.next.empty() ? "confirm with an independent measurement."
                                       : result.next.back() + ".";
  return verdict;
}

/// That the collector reads otherwise with these trims; empty where it does not, to half a percent.
[[nodiscard]] inline std::string collector_in_words(const outcome& result) {
  const double richer = result.collector_richer_pct();
  if (std::abs(richer) < 0.5) return {};
  return fmt::format(
      "Fuel is added to lean cylinders also where others are not known well enough to take it away: the "
      "collector will read up to {:.1f} % {} than before.",
      std::abs(richer), richer > 0 ? "richer" : "leaner");
}

}  // namespace trim_cylinders

// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <string>
#include <vector>

#include "correct_map/job.hpp"
#include "session/cell_name.hpp"

namespace correct_map {

[[nodiscard]] constexpr const char* in_words(fettle::cell_state state) noexcept {
  switch (state) {
    case fettle::cell_state::changed:
      return "changed";
    case fettle::cell_state::limited:
      return "limited";
    case fettle::cell_state::held:
      return "held";
    default:
      return "unknown";
  }
}

/// Cells by how much they ask for beyond what they got, the leanest wish first among equals.
[[nodiscard]] inline std::vector<std::size_t> worst_cells(const outcome& of, std::size_t most) {
  std::vector<std::size_t> cells;
  for (std::size_t k = 0; k < of.found.readings.size(); ++k)
    if (of.found.readings[k] > 0) cells.push_back(k);
  const auto left = [&](std::size_t k) { return std::abs(of.found.correction[k] / of.corrected.applied[k] - 1); };
  std::stable_sort(cells.begin(), cells.end(), [&](std::size_t a, std::size_t b) { return left(a) > left(b); });
  cells.resize(std::min(cells.size(), most));
  return cells;
}

/// What a tuner needs to know before loading the map.
[[nodiscard]] inline std::string summary(const outcome& of) {
  using fettle::cell_state, fettle::forecast;
  std::string text;
  const auto line = [&](const std::string& words) { text += words + "\n"; };
  line(of.session.title);
  line(fmt::format("{} rows, {:.1f} min, {} log{}; path and film {}", of.rows, of.minutes, of.session.log_paths.size(),
                   of.session.log_paths.size() == 1 ? "" : "s",
                   of.trust == session::path_trust::given ? "as given" : "found from the logs"));
  line("");
  line("lambda error, rms                  before    after (predicted)");
  line(fmt::format("  the map alone, engine steady    {:5.2f} %   {:5.2f} %", 100 * of.rms_of(&forecast::map_before),
                   100 * of.rms_of(&forecast::map_after)));
  line(fmt::format("  as read, wall films near rest   {:5.2f} %   {:5.2f} %", 100 * of.rms_of(&forecast::read_before),
                   100 * of.rms_of(&forecast::read_after)));
  line("");
  line(fmt::format("cells: {} changed, {} limited, {} held, {} unknown", of.count(cell_state::changed),
                   of.count(cell_state::limited), of.count(cell_state::held), of.count(cell_state::unknown)));
  line(fmt::format("  one pass may add {:g} % of fuel or take away {:g} %; a cell that asks for more is limited",
                   of.session.richer_pct, of.session.leaner_pct));
  std::ptrdiff_t refused = 0;
  for (const std::size_t k : of.corrected.cells(cell_state::limited)) refused += of.found.correction[k] < 1 ? 1 : 0;
  if (refused > 0)
    line(fmt::format("  REFUSED to lean {} cell{} beyond {:g} %: load this map, confirm it, drive again", refused,
                     refused == 1 ? "" : "s", of.session.leaner_pct));
  line("");
  line("cells that got least of what they ask for");
  line("  asked     got       error    readings  state    cell");
  for (const std::size_t k : worst_cells(of, 6))
    line(fmt::format("  {:+6.2f} %  {:+6.2f} %  {:5.2f} %  {:8.0f}  {:8} {}", 100 * (of.found.correction[k] - 1),
                     100 * (of.corrected.applied[k] - 1), 100 * of.found.standard_error[k], of.found.readings[k],
                     in_words(of.corrected.state[k]), session::cell_name(of.base, k)));
  line("");
  for (std::size_t s = 0; s < of.found.rejected.size(); ++s)
    line(fmt::format("sensor {}: {} readings count; left out: {}", of.session.sensors[s].name,
                     of.found.rejected[s][fettle::rejection::none], detail::rejections_in_words(of.found.rejected[s])));
  if (!of.found.parameters.empty()) {
    line("");
    line("found from the logs                  value    error  by noise   session");
    for (const auto& one : of.found.parameters)
      line(fmt::format("  {:32} {:8.4g}  {:5.1f} %  {:5.1f} %  {:8.4g}", one.prior.name, one.value,
                       100 * one.relative_error, 100 * one.reading_error, one.prior.value));
  }
  for (const auto& remark : of.remarks) line("note: " + remark);
  if (!of.plan.empty()) {
    line("");
    line("drive next, steady or sweeping slowly (expected error of the cells before and after)");
    for (std::size_t i = 0; i < std::min<std::size_t>(of.plan.size(), 5); ++i)
      line(fmt::format("  {:5.2f} % -> {:5.2f} %  {}", 100 * of.plan[i].error_before, 100 * of.plan[i].error_after,
                       detail::where_to_drive(of.plan[i], of.base.axis_names)));
  }
  return text;
}

}  // namespace correct_map

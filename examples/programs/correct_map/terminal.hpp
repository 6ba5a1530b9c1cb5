// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

#include "common/session/cell_name.hpp"
#include "correct_map/job.hpp"

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

/// Cells by how much they ask for beyond what was applied: those that stay lean first, then those that stay rich.
[[nodiscard]] inline std::vector<std::size_t> worst_cells(const outcome& of, std::size_t most) {
  std::vector<std::size_t> cells;
  for (std::size_t k = 0; k < of.found.readings.size(); ++k)
    if (of.found.readings[k] > 0) cells.push_back(k);
  std::stable_sort(cells.begin(), cells.end(), [&](std::size_t a, std::size_t b) {
    const double left_a = of.still_asked(a), left_b = of.still_asked(b);
    return (left_a > 0) == (left_b > 0) ? std::abs(left_a) > std::abs(left_b) : left_a > 0;
  });
  cells.resize(std::min(cells.size(), most));
  return cells;
}

/// That leaning was refused, and what to do; empty if it was not.
[[nodiscard]] inline std::string refusal_in_words(const outcome& of) {
  std::size_t refused = 0;
  for (const std::size_t k : of.corrected.cells(fettle::cell_state::limited))
    if (of.found.correction[k] < 1) ++refused;
  if (refused == 0) return {};
  return fmt::format("REFUSED to lean {} cell{} beyond {:g} %: load this map, confirm it, drive again", refused,
                     refused == 1 ? "" : "s", of.session.leaner_pct);
}

inline constexpr std::string_view lean_in_words =
    "LEAN as it stands: add fuel by hand before driving there, short and at part load first";

/// That visited cells stay lean, and what to do; empty if none does.
[[nodiscard]] inline std::string lean_cells_in_words(const outcome& of) {
  std::size_t cells = 0;
  for (std::size_t k = 0; k < of.found.readings.size(); ++k)
    if (of.found.readings[k] > 0 && of.stays_lean(k)) ++cells;
  if (cells == 0) return {};
  return fmt::format("{} cell{} still {} more than {:g} % more fuel. {}", cells, cells == 1 ? "" : "s",
                     cells == 1 ? "asks for" : "ask for", 100 * outcome::lean, lean_in_words);
}

/// What the plan takes for granted.
[[nodiscard]] inline std::string plan_in_words(const outcome& of) {
  return fmt::format(
      "after: if each point is held, and each breakpoint of a sweep passed, until its mean lambda is known to {:g} %; "
      "with less than {:g} readings a cell stays held",
      100 * fettle::visit_options{}.reading_error, of.limits.fewest_readings);
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
  if (const auto refusal = refusal_in_words(of); !refusal.empty()) line("  " + refusal);
  line("");
  line("cells that got least of what they ask for, lean ones first");
  line("  asked     applied   standard error  readings  state    cell");
  for (const std::size_t k : worst_cells(of, 6))
    line(fmt::format("  {:+6.2f} %  {:+6.2f} %  {:12.2f} %  {:8.0f}  {:8} {}", 100 * (of.found.correction[k] - 1),
                     100 * (of.corrected.applied[k] - 1), 100 * of.found.standard_error[k], of.found.readings[k],
                     in_words(of.corrected.state[k]), session::cell_name(of.base, k)));
  if (const auto lean = lean_cells_in_words(of); !lean.empty()) line("  " + lean);
  line("");
  for (std::size_t s = 0; s < of.found.rejected.size(); ++s)
    line(fmt::format("sensor {}: {} readings count; left out: {}", of.session.sensors[s].name,
                     of.found.rejected[s][fettle::rejection::none], detail::rejections_in_words(of.found.rejected[s])));
  if (!of.found.parameters.empty()) {
    line("");
    line("found from the logs                     value  standard error   of logs     session");
    for (const auto& one : of.found.parameters)
      line(fmt::format("  {:32} {:8.4g} {:1}  {:12.1f} %  {:6.1f} %  {:8.4g} {}", one.prior.name, one.value,
                       detail::unit_of(one.prior.name), 100 * one.relative_error, 100 * one.reading_error,
                       one.prior.value, detail::unit_of(one.prior.name)));
  }
  for (const auto& remark : of.remarks) line("note: " + remark);
  if (!of.plan.empty()) {
    line("");
    line("drive next, steady or sweeping slowly");
    line("  standard error      leanest cell");
    line("  now      after      asked     applied   where");
    for (const auto& leg : of.plan) {
      const std::size_t k = detail::leanest_cell(of, leg);
      line(fmt::format("  {:5.2f} %  {:5.2f} %    {:+6.2f} %  {:+6.2f} %  {}", 100 * leg.error_before,
                       100 * leg.error_after, 100 * (of.found.correction[k] - 1), 100 * (of.corrected.applied[k] - 1),
                       detail::where_to_drive(leg, of.base.axis_names)));
      if (of.stays_lean(k)) line(fmt::format("    {}", lean_in_words));
    }
    line("  " + plan_in_words(of));
  }
  return text;
}

}  // namespace correct_map

// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <string>
#include <utility>
#include <vector>

#include "common/session/cell_name.hpp"
#include "common/session/cells_by.hpp"
#include "correct_map/job.hpp"
#include "correct_map/plan_words.hpp"
#include "correct_map/verdict.hpp"

namespace correct_map {

/// Driven cells that are left richest, the richest first.
[[nodiscard]] inline std::vector<std::size_t> rich_cells(const outcome& result, std::size_t most) {
  auto cells = session::cells_by(
      result.evidence.size(), [&](std::size_t k) { return result.evidence[k].passes > 0 && result.left_pct(k) < 0; },
      [&](std::size_t k) { return -result.left_pct(k); });
  cells.resize(std::min(cells.size(), most));
  return cells;
}

inline constexpr const char* lean_in_words =
    "stays lean: add fuel by hand before driving there, short and at part load first";

/// What the decision went by, in a sentence or two.
[[nodiscard]] inline std::string rule_in_words(const outcome& result) {
  return fmt::format(
      "A lean cell gets what it needs by the estimate, however little it was driven. Fuel is taken away only as far as "
      "is sure: one standard error less than the estimate, and nothing below {:g} s of driving, where readings "
      "contradict each other, or where the sensor was at its lean end. One pass adds {:g} % at most and takes away "
      "{:g} %. {}",
      result.limits.least_seconds, 100 * result.limits.richer, 100 * result.limits.leaner,
      result.limits.undriven == fettle::undriven_cells::leave_alone
          ? "Cells that were not driven are left as they were."
          : "Cells that were not driven are never leaned, and enriched where their surroundings are sure of it.");
}

/// The largest step that the change makes between neighbours that were driven.
[[nodiscard]] inline std::string largest_step_in_words(const outcome& result) {
  std::vector<bool> driven;
  for (const auto& cell : result.evidence) driven.push_back(cell.passes > 0);
  const auto step = fettle::largest_step(result.base.table, result.decided.applied, driven);
  if (!(step.size > 0)) return {};
  return fmt::format("Largest step of the change between neighbouring cells: {:.1f} %, from {} to {}.",
                     100 * std::expm1(step.size), session::cell_name(result.base, step.from),
                     session::cell_name(result.base, step.to));
}

/// What the plan takes for granted.
[[nodiscard]] inline std::string plan_in_words() {
  return fmt::format(
      "after: if each point is held, and each breakpoint of a sweep passed, until its mean lambda is known to {:g} %",
      100 * fettle::visit_options{}.reading_error);
}

namespace detail {

/// Gathers the lines of the summary.
class summary_writer {
 public:
  summary_writer(const outcome& result, const std::string& map_file)
      : result_{result}, text_{report::lines(verdict_of(result, map_file))} {}

  [[nodiscard]] std::string text() {
    for (const auto& objection : result_.objections) line("  " + objection);
    for (const auto& danger : dangers_in_words(result_)) line("  " + danger);
    lean_cells();
    line("");
    line(result_.session.title);
    line(fmt::format("{} rows, {:.1f} min, {} log{}; path and film {}", result_.rows, result_.minutes,
                     result_.session.log_paths.size(), result_.session.log_paths.size() == 1 ? "" : "s",
                     result_.options.trust == session::path_trust::given ? "as given" : "identified from the logs"));
    errors();
    cells();
    sensors();
    parameters();
    for (const auto& remark : result_.remarks) line("note: " + remark);
    plan();
    return std::move(text_);
  }

 private:
  void line(const std::string& words) { text_ += words + "\n"; }

  void cell_row(std::size_t k) {
    line(fmt::format("  {:+6.2f} %  {:+6.2f} %  {:+6.2f} %  {:10.2f} %  {:7.1f} s   {}", result_.needs_pct(k),
                     result_.gets_pct(k), result_.left_pct(k), result_.error_pct(k), result_.evidence[k].seconds,
                     session::cell_name(result_.base, k)));
  }
  void cell_head(const char* what) {
    line("");
    line(what);
    line("  needs     got       left      uncertainty  driven      cell");
  }

  void lean_cells() {
    const auto lean = result_.lean_cells();
    if (lean.empty()) return;
    constexpr std::size_t most = 12;
    cell_head("cells that stay lean, the worst first");
    for (std::size_t i = 0; i < std::min(most, lean.size()); ++i) cell_row(lean[i]);
    if (lean.size() > most) line(fmt::format("  and {} more: summary.json lists them", lean.size() - most));
  }

  void errors() {
    using fettle::forecast;
    line("");
    line("lambda error, rms                  before    after (predicted)");
    line(fmt::format("  the map alone, engine steady    {:5.2f} %   {:5.2f} %",
                     100 * result_.rms_of(&forecast::map_before), 100 * result_.rms_of(&forecast::map_after)));
    line(fmt::format("  as read, wall films near rest   {:5.2f} %   {:5.2f} %",
                     100 * result_.rms_of(&forecast::read_before), 100 * result_.rms_of(&forecast::read_after)));
  }

  void cells() {
    using fettle::cell_state;
    line("");
    line(fmt::format("cells: {} corrected, {} corrected as far as is safe, {} still lean, {} left alone, {} not driven",
                     result_.count(cell_state::corrected), result_.count(cell_state::safe_part),
                     result_.count(cell_state::still_lean), result_.count(cell_state::left_alone),
                     result_.count(cell_state::not_driven)));
    line("  " + rule_in_words(result_));
    if (const auto step = largest_step_in_words(result_); !step.empty()) line("  " + step);
    const auto rich = rich_cells(result_, 6);
    if (rich.empty()) return;
    cell_head("cells that stay richest");
    for (const std::size_t k : rich) cell_row(k);
  }

  void sensors() {
    line("");
    for (std::size_t s = 0; s < result_.identified.rejected.size(); ++s)
      line(fmt::format("sensor {}: {} readings count; left out: {}", result_.session.sensors[s].name,
                       result_.identified.rejected[s][fettle::rejection::none],
                       rejections_in_words(result_.identified.rejected[s])));
  }

  void parameters() {
    if (result_.identified.parameters.empty()) return;
    line("");
    line("identified from the logs                value  standard error   of logs     session");
    for (const auto& parameter : result_.identified.parameters)
      line(fmt::format("  {:32} {:8.4g} {:1}  {:12.1f} %  {:6.1f} %  {:8.4g} {}", parameter.prior.name, parameter.value,
                       unit_of(parameter.prior.name), 100 * parameter.relative_error, 100 * parameter.reading_error,
                       parameter.prior.value, unit_of(parameter.prior.name)));
  }

  void plan() {
    if (result_.plan.empty()) return;
    line("");
    line("drive next, steady or sweeping slowly");
    line("  uncertainty         leanest cell on the way");
    line("  now      after      needs     got       where");
    constexpr std::size_t most = 10;
    for (std::size_t i = 0; i < std::min(most, result_.plan.size()); ++i) {
      const auto& leg = result_.plan[i];
      const std::size_t k = leanest_cell(result_, leg);
      line(fmt::format("  {:5.2f} %  {:5.2f} %    {:+6.2f} %  {:+6.2f} %  {}", 100 * leg.error_before,
                       100 * leg.error_after, result_.needs_pct(k), result_.gets_pct(k),
                       where_to_drive(leg, result_.base.axis_names)));
      if (result_.stays_lean(k)) line(fmt::format("    {}", lean_in_words));
    }
    if (result_.plan.size() > most)
      line(fmt::format("  and {} more: drive_next.csv lists them", result_.plan.size() - most));
    line("  " + plan_in_words());
  }

  const outcome& result_;
  std::string text_;
};

}  // namespace detail

/// What a tuner needs to know before loading the map; the answers first.
///
/// @param map_file  the corrected map as the reader finds it.
[[nodiscard]] inline std::string summary(const outcome& result, const std::string& map_file) {
  return detail::summary_writer(result, map_file).text();
}

}  // namespace correct_map

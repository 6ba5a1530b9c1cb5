// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <numeric>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "common/report/cell_states.hpp"
#include "common/report/histogram.hpp"
#include "common/report/line_chart.hpp"
#include "common/report/map_over_axes.hpp"
#include "common/report/page.hpp"
#include "common/report/surface_chart.hpp"
#include "correct_map/files.hpp"
#include "correct_map/job.hpp"
#include "correct_map/plan_words.hpp"
#include "correct_map/terminal.hpp"
#include "fettle/io/text.hpp"

namespace correct_map {
namespace detail {

/// Turns an outcome into the sections of a page.
class report_writer {
 public:
  explicit report_writer(const outcome& result)
      : result_{result},
        page_{result.session.title,
              fmt::format("Fuel map correction from {} log rows, {:.1f} minutes", result.rows, result.minutes)} {}

  [[nodiscard]] std::string html() {
    page_.answers(verdict_of(result_, corrected_map_name));
    summary_section();
    maps();
    errors();
    dynamics();
    next();
    readings();
    return page_.html();
  }

 private:
  void summary_section() {
    using fettle::forecast;
    page_.section("Result");
    if (!result_.objections.empty()) page_.notice("Why this map must not be loaded", result_.objections);
    if (const auto dangers = dangers_in_words(result_); !dangers.empty())
      page_.notice("Why the engine may still run lean", dangers);
    cell_table("Stay lean, the worst first", result_.lean_cells());
    page_.facts(
        {{"Map error, engine steady, rms", change(&forecast::map_before, &forecast::map_after)},
         {"Lambda error as read, wall films near rest, rms", change(&forecast::read_before, &forecast::read_after)}});
    cell_table("Stay richest", rich_cells(result_, 8));
    if (!result_.remarks.empty()) page_.notice("What these logs could not tell", result_.remarks);
  }

  void cell_table(std::string caption, const std::vector<std::size_t>& cells) {
    if (cells.empty()) return;
    std::vector<std::vector<std::string>> rows;
    for (const std::size_t k : cells)
      rows.push_back({report::number(result_.needs_pct(k), 1, report::sign::always),
                      report::number(result_.gets_pct(k), 1, report::sign::always), session::cell_name(result_.base, k),
                      report::number(result_.left_pct(k), 1, report::sign::always),
                      fmt::format("{:.1f}", result_.error_pct(k)), fmt::format("{:.1f}", result_.evidence[k].seconds)});
    page_.add(report::table{.caption = std::move(caption),
                            .columns = {{"Needs %", true},
                                        {"Got %", true},
                                        {"Cell"},
                                        {"Left %", true},
                                        {"Uncertainty %", true},
                                        {"Driven s", true}},
                            .rows = std::move(rows)});
  }

  void maps() {
    page_.section("Map");
    const auto before = result_.base.table.values();
    const std::size_t cells = before.size();
    std::vector<double> change_pct(cells), needed_pct(cells), error_pct(cells), seconds(cells);
    std::vector<std::string> needed(cells);
    std::string marks;
    for (std::size_t k = 0; k < cells; ++k) {
      const bool driven = result_.evidence[k].passes > 0;
      change_pct[k] = result_.gets_pct(k);
      needed_pct[k] = result_.needs_pct(k);
      error_pct[k] = result_.error_pct(k);
      seconds[k] = driven ? result_.evidence[k].seconds : std::nan("");
      if (result_.stays_lean(k)) needed[k] = "needs " + report::number(needed_pct[k], 1, report::sign::always);
      marks += report::mark_of(result_.decided.state[k]);
    }
    const report::diverging about_zero{.centre = 0,
                                       .reach = 100 * std::max(result_.limits.richer, result_.limits.leaner)};
    report::map_table change = map("Change of each cell", change_pct, 1, "%", about_zero);
    change.marks = marks;
    change.meanings = report::state_meanings();
    change.unmarked = report::in_words(fettle::cell_state::corrected);
    change.outlined = report::mark_of(fettle::cell_state::still_lean);
    change.below = needed;
    page_.add(report::map_set{
        .label = "Show",
        .maps = {{"Change", std::move(change)},
                 {"Before", map("The map before", before, decimals(), unit(), report::sequential{})},
                 {"After", map("The corrected map", result_.corrected, decimals(), unit(), report::sequential{})},
                 {"Needed", map("What each cell needs by the estimate", needed_pct, 1, "%", about_zero)},
                 {"Uncertainty", map("Standard error of what is needed", error_pct, 2, "%",
                                     report::sequential{.limits = report::range_without_outliers(error_pct)})},
                 {"Driven", map("Time driven", seconds, 1, "s",
                                report::sequential{.limits = report::range_without_outliers(seconds)})}}});
    page_.paragraph("Orange: more fuel than before. Blue: less. " + rule_in_words(result_));
    if (const auto step = largest_step_in_words(result_); !step.empty()) page_.paragraph(step);
    if (result_.base.table.rank() != 2) return;
    const auto& rows = result_.base.table.axes()[0].points();
    const auto& columns = result_.base.table.axes()[1].points();
    page_.picture(report::draw(report::surface_chart{.row_label = result_.base.axis_names[0],
                                                     .column_label = result_.base.axis_names[1],
                                                     .value_label = unit(),
                                                     .surfaces = {{"Before", rows, columns, before},
                                                                  {"Corrected", rows, columns, result_.corrected}}}),
                  "The map before and the corrected map as landscapes with the same heights");
  }

  [[nodiscard]] report::map_table map(std::string caption, std::span<const double> values, int decimals,
                                      std::string unit, report::scale colours) const {
    auto table = report::map_over_axes(result_.base, std::move(caption), values);
    table.decimals = decimals;
    table.unit = std::move(unit);
    table.colours = std::move(colours);
    return table;
  }

  void errors() {
    page_.section("Lambda error before and after");
    constexpr double shown_pct = 20;
    page_.paragraph(fmt::format(
        "Lambda over target, less one: above 0 is lean. As read: the sensor's own readings while the wall films were "
        "near rest, and what they would have been with the corrected map; sensor noise remains. Map alone: what would "
        "remain if the engine stood still at that point. Over time, what is beyond {:g} % is cut off.",
        shown_pct));
    constexpr std::size_t most = 4;
    std::vector<std::size_t> logs(result_.forecasts.size());
    std::iota(logs.begin(), logs.end(), std::size_t{0});
    std::stable_sort(logs.begin(), logs.end(), [&](std::size_t a, std::size_t b) {
      return fettle::rms(result_.forecasts[a].read_before) > fettle::rms(result_.forecasts[b].read_before);
    });
    if (logs.size() > most) {
      page_.paragraph(fmt::format("Of {} logs the {} with the largest error are drawn.", logs.size(), most));
      logs.resize(most);
    }
    page_.begin_choice("Log");
    for (const std::size_t log : logs) {
      page_.begin_option(fettle::path_text(result_.session.log_paths[log].filename()));
      error_charts(result_.forecasts[log], fettle::path_text(result_.session.log_paths[log].filename()), shown_pct);
      page_.end_option();
    }
    page_.end_choice();
  }

  void error_charts(const fettle::forecast& errors, const std::string& log, double shown_pct) {
    const auto before = percent(errors.read_before), after = percent(errors.read_after);
    page_.picture(report::draw(report::line_chart{.x_label = "time in s",
                                                  .y_label = "lambda error in %, above 0: lean",
                                                  .series = {{"before, as read", errors.read_time_s, before},
                                                             {"after, predicted", errors.read_time_s, after}},
                                                  .limits = {},
                                                  .band = {},
                                                  .x_range = {},
                                                  .y_range = report::range{-shown_pct, shown_pct},
                                                  .size = {}}),
                  log + ": lambda error over time, before and predicted after");
    page_.picture(report::draw(report::histogram{.x_label = "lambda error in %, above 0: lean",
                                                 .samples = {{"before, as read", before}, {"after, predicted", after}},
                                                 .bins = 60,
                                                 .x_range = report::range{-15, 15},
                                                 .size = {}}),
                  log + ": how often each lambda error occurs");
  }

  void dynamics() {
    if (result_.identified.parameters.empty()) return;
    page_.section("Exhaust path and wall film");
    page_.paragraph(fmt::format(
        "Identified from the same logs as the map, together with it. The last column is the share of the uncertainty "
        "of the session's own value that the logs removed. The standard error has two parts: that of the logs, with "
        "noise and latencies that may be wrong by {:.0f} % each; and what the model itself, with one film per bank and "
        "one delay for all cylinders, leaves of a value however long the log is.",
        100 * session::latency_spread));
    std::vector<std::vector<std::string>> rows;
    for (const auto& parameter : result_.identified.parameters) {
      const std::string& name = parameter.prior.name;
      rows.push_back({name, with_unit(name, parameter.value), fmt::format("{:.1f}", 100 * parameter.relative_error),
                      fmt::format("{:.1f}", 100 * parameter.reading_error), with_unit(name, parameter.prior.value),
                      fmt::format("{:.0f}", 100 * parameter.identified_share)});
    }
    page_.add(report::table{.caption = "Parameters",
                            .columns = {{"Parameter"},
                                        {"Identified", true},
                                        {"Standard error %", true},
                                        {"from the logs %", true},
                                        {"Session", true},
                                        {"Uncertainty removed %", true}},
                            .rows = std::move(rows)});
  }

  void next() {
    if (result_.plan.empty()) return;
    page_.section("Where to drive next");
    page_.paragraph(fmt::format(
        "Steady points and slow sweeps, in order: each lowers the uncertainty of the map most, weighted by how much "
        "the car is used there, given that those above it have been driven. Uncertainty {}. Where the engine cannot be "
        "held at one point, as at little throttle and high speed, pass slowly and more often. Needs and gets are those "
        "of the cell on the way that stays leanest; what was not driven is judged by its surroundings.",
        plan_in_words()));
    std::vector<std::vector<std::string>> rows;
    constexpr std::size_t most = 20;
    for (std::size_t i = 0; i < std::min(most, result_.plan.size()); ++i) {
      const auto& leg = result_.plan[i];
      const std::size_t k = leanest_cell(result_, leg);
      rows.push_back({where_to_drive(leg, result_.base.axis_names), result_.stays_lean(k) ? lean_in_words : "",
                      report::number(result_.needs_pct(k), 1, report::sign::always),
                      report::number(result_.gets_pct(k), 1, report::sign::always),
                      fmt::format("{:.2f}", 100 * leg.error_before), fmt::format("{:.2f}", 100 * leg.error_after),
                      leg.is_sweep() ? "sweep" : "steady"});
    }
    page_.add(report::table{.caption = "Plan of the next drive",
                            .columns = {{"Where"},
                                        {"Mind"},
                                        {"Needs %", true},
                                        {"Gets %", true},
                                        {"Uncertainty now %", true},
                                        {"after %", true},
                                        {"How"}},
                            .rows = std::move(rows)});
    if (result_.plan.size() > most)
      page_.paragraph(fmt::format("And {} more: drive_next.csv lists them.", result_.plan.size() - most));
  }

  void readings() {
    page_.section("Which readings count");
    report::table table{.caption = "Readings by sensor and reason", .columns = {{"Reason"}}, .rows = {}};
    for (const auto& sensor : result_.session.sensors) table.columns.push_back({sensor.name, true});
    for (std::size_t k = 0; k < fettle::rejection_kinds; ++k) {
      const auto why = static_cast<fettle::rejection>(k);
      std::vector<std::string> row{std::string(fettle::describe(why))};
      std::size_t all = 0;
      for (const auto& counts : result_.identified.rejected) {
        row.push_back(std::to_string(counts[why]));
        all += counts[why];
      }
      if (all > 0) table.rows.push_back(std::move(row));
    }
    page_.add(table);
  }

  [[nodiscard]] std::string change(std::vector<double> fettle::forecast::*before,
                                   std::vector<double> fettle::forecast::*after) const {
    return fmt::format("{:.2f} % before, {:.2f} % predicted after", 100 * result_.rms_of(before),
                       100 * result_.rms_of(after));
  }
  [[nodiscard]] static std::vector<double> percent(std::vector<double> series) {
    for (double& x : series) x *= 100;
    return series;
  }
  [[nodiscard]] std::string unit() const {
    switch (result_.session.holds) {
      case fettle::map_meaning::fuel_mg:
        return "mg per cylinder and cycle";
      case fettle::map_meaning::ve_pct:
        return "% volumetric efficiency";
      default:
        return "ms";
    }
  }
  [[nodiscard]] int decimals() const { return result_.session.holds == fettle::map_meaning::pulse_ms ? 3 : 1; }

  const outcome& result_;
  report::page page_;
};

}  // namespace detail

/// The whole report, one HTML file.
[[nodiscard]] inline std::string report_html(const outcome& result) {
  return detail::report_writer(result).html();
}

}  // namespace correct_map

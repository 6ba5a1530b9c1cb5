// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/core.h>

#include <array>
#include <cmath>
#include <cstddef>
#include <string>
#include <utility>
#include <vector>

#include "common/report/cautions.hpp"
#include "common/report/cell_states.hpp"
#include "common/report/histogram.hpp"
#include "common/report/line_chart.hpp"
#include "common/report/page.hpp"
#include "common/report/surface_chart.hpp"
#include "correct_map/files.hpp"
#include "correct_map/job.hpp"
#include "correct_map/terminal.hpp"

namespace correct_map {
namespace detail {

/// Turns an outcome into the sections of a page.
class report_writer {
 public:
  explicit report_writer(const outcome& of)
      : of_{of},
        page_{of.session.title,
              fmt::format("Fuel map correction from {} log rows, {:.1f} minutes", of.rows, of.minutes)} {}

  [[nodiscard]] std::string html() {
    result();
    maps();
    errors();
    dynamics();
    next();
    readings();
    return page_.html();
  }

 private:
  void result() {
    using fettle::forecast;
    page_.section("Result");
    const report::verdict verdict = verdict_of(of_, corrected_map_name);
    page_.facts({{"Load", verdict.load}, {"Safe", verdict.safe}, {"Next", verdict.next}});
    page_.notice("Before you load this map", report::cautions);
    page_.facts(
        {{"Map error, engine steady, rms", change(&forecast::map_before, &forecast::map_after)},
         {"Lambda error as read, wall films near rest, rms", change(&forecast::read_before, &forecast::read_after)}});
    if (!of_.remarks.empty()) page_.notice("What these logs could not tell", of_.remarks);
  }

  void maps() {
    page_.section("Maps");
    const auto base = of_.base.table.values(), corrected = std::span<const double>(of_.corrected);
    std::vector<double> change_pct, error_pct;
    std::string marks;
    for (std::size_t k = 0; k < base.size(); ++k) {
      const bool visited = of_.evidence[k].passes > 0;
      change_pct.push_back(of_.gets_pct(k));
      error_pct.push_back(visited ? of_.error_pct(k) : std::nan(""));
      marks += report::mark_of(of_.decided.state[k]);
    }
    add("Change", change_pct, 1, "%", report::diverging{.centre = 0, .reach = {}}, marks);
    page_.paragraph(rule_in_words(of_));
    add("Standard error of the correction, where the car has been", error_pct, 2, "%", report::sequential{}, {});
    add("Corrected map", corrected, decimals(), unit(), report::sequential{}, marks);
    add("Base map", base, decimals(), unit(), report::sequential{}, {});
    if (of_.base.table.rank() != 2) return;
    const auto& rows = of_.base.table.axes()[0].points();
    const auto& columns = of_.base.table.axes()[1].points();
    page_.picture(report::draw(report::surface_chart{
                      .row_label = of_.base.axis_names[0],
                      .column_label = of_.base.axis_names[1],
                      .value_label = unit(),
                      .surfaces = {{"Base", rows, columns, base}, {"Corrected", rows, columns, corrected}}}),
                  "The base map and the corrected map as landscapes with the same heights");
    std::vector<double> applied = change_pct;
    page_.picture(report::draw(report::surface_chart{.row_label = of_.base.axis_names[0],
                                                     .column_label = of_.base.axis_names[1],
                                                     .value_label = "change in %",
                                                     .surfaces = {{"Change", rows, columns, applied}},
                                                     .colours = report::diverging{}}),
                  "The change of each cell in percent");
  }

  void errors() {
    page_.section("Lambda error before and after");
    constexpr double shown_pct = 20;
    page_.paragraph(fmt::format(
        "Lambda over target, less one: above 0 is lean. As read: the sensor's own readings while the wall films were "
        "near rest, and what they would have been with the corrected map; sensor noise remains. Map alone: what would "
        "remain if the engine stood still at that point. Over time, what is beyond {:g} % is cut off.",
        shown_pct));
    for (std::size_t i = 0; i < of_.forecasts.size(); ++i) {
      const auto& one = of_.forecasts[i];
      const auto before = percent(one.read_before), after = percent(one.read_after);
      const std::string log = of_.session.log_paths[i].filename().string();
      page_.subheading(log);
      page_.picture(report::draw(report::line_chart{.x_label = "time in s",
                                                    .y_label = "lambda error in %, above 0: lean",
                                                    .series = {{"before, as read", one.read_time_s, before},
                                                               {"after, predicted", one.read_time_s, after}},
                                                    .limits = {},
                                                    .band = {},
                                                    .x_range = {},
                                                    .y_range = report::range{-shown_pct, shown_pct},
                                                    .size = {}}),
                    "Lambda error over time, before and predicted after");
      page_.picture(
          report::draw(report::histogram{.x_label = "lambda error in %, above 0: lean",
                                         .samples = {{"before, as read", before}, {"after, predicted", after}},
                                         .bins = 60,
                                         .x_range = report::range{-15, 15},
                                         .size = {}}),
          "How often each lambda error occurs");
    }
  }

  void dynamics() {
    if (of_.found.parameters.empty()) return;
    page_.section("Exhaust path and wall film");
    page_.paragraph(fmt::format(
        "Found from the same logs as the map, together with it. The last column is the share of the uncertainty of "
        "the session's own value that the logs removed. The standard error has two parts: that of the logs, noise and "
        "latencies that may be wrong by {:.0f} % each; and what the model itself, one film a bank and one delay for "
        "all cylinders, leaves of a value however long the log.",
        100 * session::latency_spread));
    std::vector<std::vector<std::string>> rows;
    for (const auto& one : of_.found.parameters)
      rows.push_back({one.prior.name, with_unit(one.prior.name, one.value),
                      fmt::format("{:.1f}", 100 * one.relative_error), fmt::format("{:.1f}", 100 * one.reading_error),
                      with_unit(one.prior.name, one.prior.value), fmt::format("{:.0f}", 100 * one.told)});
    page_.add(report::table{.caption = "Parameters",
                            .columns = {{"Parameter"},
                                        {"Found", true},
                                        {"Standard error %", true},
                                        {"of the logs %", true},
                                        {"Session", true},
                                        {"Told by the logs %", true}},
                            .rows = std::move(rows)});
  }

  void next() {
    if (of_.plan.empty()) return;
    page_.section("Where to drive next");
    page_.paragraph(fmt::format(
        "Steady points and slow sweeps, in order: each lowers the uncertainty of the map most, weighted by "
        "how much the car is used there, given that those above it have been driven. Standard error {}. "
        "Where the engine cannot be held, as at little throttle and high speed, pass slowly and more often. "
        "Asked and applied are those of the cell on the way that stays leanest; what was never visited goes "
        "by its neighbours.",
        plan_in_words()));
    std::vector<std::vector<std::string>> rows;
    for (const auto& leg : of_.plan) {
      const std::size_t k = leanest_cell(of_, leg);
      rows.push_back({leg.is_sweep() ? "sweep" : "steady", where_to_drive(leg, of_.base.axis_names),
                      fmt::format("{:+.2f}", of_.needs_pct(k)), fmt::format("{:+.2f}", of_.gets_pct(k)),
                      fmt::format("{:.2f}", 100 * leg.error_before), fmt::format("{:.2f}", 100 * leg.error_after),
                      of_.stays_lean(k) ? std::string(lean_in_words) : ""});
    }
    page_.add(report::table{.caption = "Plan of the next drive",
                            .columns = {{"How"},
                                        {"Where"},
                                        {"Asked %", true},
                                        {"Applied %", true},
                                        {"Standard error now %", true},
                                        {"after %", true},
                                        {"Mind"}},
                            .rows = std::move(rows)});
  }

  void readings() {
    page_.section("Which readings count");
    report::table table{.caption = "Readings by sensor and reason", .columns = {{"Reason"}}, .rows = {}};
    for (const auto& sensor : of_.session.sensors) table.columns.push_back({sensor.name, true});
    for (std::size_t k = 0; k < fettle::rejection_kinds; ++k) {
      const auto why = static_cast<fettle::rejection>(k);
      std::vector<std::string> row{std::string(fettle::describe(why))};
      std::size_t all = 0;
      for (const auto& counts : of_.found.rejected) {
        row.push_back(std::to_string(counts[why]));
        all += counts[why];
      }
      if (all > 0) table.rows.push_back(std::move(row));
    }
    page_.add(table);
  }

  void add(std::string caption, std::span<const double> values, int decimals, std::string unit, report::scale colours,
           std::string_view marks) {
    const auto& axes = of_.base.table.axes();
    static constexpr double one_column[] = {0};
    report::map_table table{.caption = std::move(caption),
                            .rows = {of_.base.axis_names[0], axes[0].points(), of_.base.descending[0]},
                            .columns = {"", one_column},
                            .values = values,
                            .decimals = decimals,
                            .unit = std::move(unit),
                            .colours = std::move(colours),
                            .marks = marks,
                            .meanings = {}};
    if (axes.size() == 2) table.columns = {of_.base.axis_names[1], axes[1].points(), of_.base.descending[1]};
    if (!marks.empty()) table.meanings = report::state_meanings();
    page_.add(table);
  }

  [[nodiscard]] std::string change(std::vector<double> fettle::forecast::*before,
                                   std::vector<double> fettle::forecast::*after) const {
    return fmt::format("{:.2f} % before, {:.2f} % predicted after", 100 * of_.rms_of(before), 100 * of_.rms_of(after));
  }
  [[nodiscard]] static std::vector<double> percent(std::vector<double> series) {
    for (double& x : series) x *= 100;
    return series;
  }
  [[nodiscard]] std::string unit() const {
    switch (of_.session.holds) {
      case fettle::map_meaning::fuel_mg:
        return "mg per cylinder and cycle";
      case fettle::map_meaning::ve_pct:
        return "% volumetric efficiency";
      default:
        return "ms";
    }
  }
  [[nodiscard]] int decimals() const { return of_.session.holds == fettle::map_meaning::pulse_ms ? 3 : 1; }

  const outcome& of_;
  report::page page_;
};

}  // namespace detail

/// The whole report, one HTML file.
[[nodiscard]] inline std::string report_html(const outcome& of) {
  return detail::report_writer(of).html();
}

}  // namespace correct_map

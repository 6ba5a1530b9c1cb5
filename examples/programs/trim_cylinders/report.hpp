// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <initializer_list>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "common/report/cell_states.hpp"
#include "common/report/interval_chart.hpp"
#include "common/report/line_chart.hpp"
#include "common/report/map_over_axes.hpp"
#include "common/report/page.hpp"
#include "fettle/io/text.hpp"
#include "trim_cylinders/job.hpp"
#include "trim_cylinders/terminal.hpp"

namespace trim_cylinders {
namespace detail {

/// Turns an outcome into the sections of a page.
class report_writer {
 public:
  explicit report_writer(const outcome& result)
      : result_{result},
        page_{result.session.title,
              fmt::format("Trims of {} cylinders from {} log rows, {:.1f} minutes in {} runs", result.cylinders(),
                          result.rows, result.minutes, result.session.log_paths.size())} {}

  [[nodiscard]] std::string html() {
    page_.answers(verdict_of(result_, ""));
    summary_section();
    leanest();
    if (result_.shape.table.rank() == 1) all_cylinders();
    cylinders();
    sensors();
    readings();
    return page_.html();
  }

 private:
  void summary_section() {
    page_.section("Result");
    if (!result_.objections.empty()) page_.notice("Why these trims must not be loaded", result_.objections);
    if (!result_.alarms.empty()) page_.notice("Lean cylinders", result_.alarms);
    lean_trim_table();
    if (const auto words = collector_in_words(result_); !words.empty()) page_.paragraph(words);
    std::size_t separable = 0;
    for (const bool is_separable : result_.trims.separable.trim) separable += is_separable ? 1 : 0;
    page_.facts(
        {{"Spread of lambda between cylinders, mean over the time driven",
          fmt::format("{:.2f} % before, {:.2f} % predicted after", 100 * result_.spread(&fettle::region::spread_before),
                      100 * result_.spread(&fettle::region::spread_after))},
         {"Trims distinguishable from sensor gains", fmt::format("{} of {}", separable, result_.cylinders())},
         {"One pass may change",
          fmt::format("{:g} % richer, {:g} % leaner", 100 * result_.limits.richer, 100 * result_.limits.leaner)},
         {"Noise of a reading", fmt::format("{:.2f} % of phi", 100 * result_.map.noise)}});
    if (separable < result_.cylinders())
      page_.paragraph(
          "These runs leave some trims mixed with the gains of the sensors that read them. Such trims are as sure as "
          "those gains, and the uncertainty beside them says how sure. Move the sensors between runs to know more.");
    if (!result_.remarks.empty()) page_.notice("What to know about these runs", result_.remarks);
    if (!result_.next.empty()) page_.notice("What to do next", result_.next);
  }

  void lean_trim_table() {
    const auto lean = lean_trims(result_);
    if (lean.empty()) return;
    std::vector<std::vector<std::string>> rows;
    for (const auto& [cylinder, cell] : lean)
      rows.push_back({report::number(result_.needs_pct(cylinder, cell), 2, report::sign::always),
                      report::number(result_.gets_pct(cylinder, cell), 2, report::sign::always),
                      fmt::format("{}", cylinder + 1), result_.place(cell),
                      fmt::format("{:.2f}", 100 * result_.trims.standard_error[cylinder][cell])});
    page_.add(report::table{
        .caption = "Stay lean, the worst first",
        .columns = {{"Needs %", true}, {"Got %", true}, {"Cylinder", true}, {"Where"}, {"Uncertainty %", true}},
        .rows = std::move(rows)});
  }

  void leanest() {
    page_.section("The leanest cylinder everywhere");
    page_.paragraph(
        "A sensor after the collector reads the air-weighted mean of phi. The leanest cylinder stands beside it, as it "
        "was and as predicted with the trims loaded.");
    report::table table{.caption = "Lambda by region", .columns = {{"Alarm"}}, .rows = {}};
    for (const auto& column : axis_columns()) table.columns.push_back(column);
    for (const auto& column : std::initializer_list<report::column>{{"Leanest", true},
                                                                    {"Its lambda", true},
                                                                    {"after", true},
                                                                    {"Target", true},
                                                                    {"Collector", true},
                                                                    {"after", true},
                                                                    {"Spread %", true},
                                                                    {"after %", true},
                                                                    {"Time s", true}})
      table.columns.push_back(column);
    for (const auto& here : result_.regions) {
      std::vector<std::string> row{here.hidden ? "lean, hidden" : here.lean_alarm ? "lean" : ""};
      for (auto& words : point_words(here.cell)) row.push_back(words);
      for (auto& words : std::initializer_list<std::string>{
               fmt::format("{}{}", here.leanest, result_.trims.separable.trim[here.leanest - 1] ? "" : " ?"),
               fmt::format("{:.3f}", here.leanest_lambda), fmt::format("{:.3f}", here.leanest_after),
               fmt::format("{:.3f}", here.target_lambda), fmt::format("{:.3f}", here.collector_lambda),
               fmt::format("{:.3f}", here.collector_after), fmt::format("{:.2f}", 100 * here.spread_before),
               fmt::format("{:.2f}", 100 * here.spread_after), fmt::format("{:.0f}", here.seconds)})
        row.push_back(words);
      table.rows.push_back(std::move(row));
    }
    page_.add(table);
    page_.paragraph(fmt::format(
        "Hidden: the collector is within {:g} % of the target, so it alone would not show this cylinder. A question "
        "mark: this cylinder's trim is as sure as its sensor's gain, which was not moved.",
        100 * result_.alarm.collector_slack));
  }

  void all_cylinders() {
    page_.section("All cylinders");
    for (const bool after : {false, true}) {
      std::vector<std::vector<double>> lambda(result_.cylinders());
      std::vector<double> x, collector, target;
      for (const auto& here : result_.regions) {
        x.push_back(points()[here.cell]);
        collector.push_back(here.collector_lambda);
        target.push_back(here.target_lambda);
        for (std::size_t i = 0; i < result_.cylinders(); ++i)
          lambda[i].push_back(here.collector_lambda * result_.trims.correction[i][here.cell] /
                              (after ? result_.loaded[i].applied[here.cell] : 1));
      }
      report::line_chart chart{.x_label = result_.shape.axis_names[0], .y_label = "lambda"};
      for (std::size_t i = 0; i < result_.cylinders(); ++i)
        chart.series.push_back({fmt::format("cylinder {}", i + 1), x, lambda[i], report::drawn_as::line_and_points});
      chart.series.push_back({"collector", x, collector});
      chart.series.push_back({"target", x, target});
      page_.picture(report::draw(chart), after ? "Lambda of each cylinder as predicted with the trims loaded"
                                               : "Lambda of each cylinder as it was, and what the collector showed");
    }
  }

  void cylinders() {
    page_.section("Cylinder by cylinder");
    page_.paragraph(result_.corrects_trims() ? "Orange: more fuel than this cylinder gets now. Blue: less. Changes of "
                                               "the trims that are loaded; the files hold trim times change."
                                             : "Orange: more fuel than the others get. Blue: less.");
    page_.begin_choice("Cylinder");
    for (std::size_t i = 0; i < result_.cylinders(); ++i) {
      page_.begin_option(std::to_string(i + 1));
      cylinder(i);
      page_.end_option();
    }
    page_.end_choice();
  }

  void cylinder(std::size_t i) {
    page_.subheading(fmt::format("Cylinder {}", i + 1));
    trim_values values{};
    for (std::size_t k = 0; k < result_.trims.correction[i].size(); ++k) {
      const bool known = result_.is_measured(i, k);
      values.needs.push_back(known ? result_.needs_pct(i, k) : std::nan(""));
      values.error.push_back(known ? 100 * result_.trims.standard_error[i][k] : std::nan(""));
      values.gets.push_back(result_.gets_pct(i, k));
      const bool is_lean = result_.loaded[i].state[k] == fettle::cell_state::still_lean;
      values.below.push_back(is_lean ? "needs " + report::number(values.needs.back(), 2, report::sign::always) : "");
      values.marks += report::mark_of(result_.loaded[i].state[k]);
    }
    if (!result_.trims.separable.trim[i])
      page_.paragraph("The sensor that read this cylinder was not moved: its gain is part of the uncertainty.");
    if (result_.shape.table.rank() == 1) trim_chart(i, values);
    if (result_.shape.table.rank() == 2)
      trim_maps(values);
    else
      trim_table(i, values);
  }

  /// Of one cylinder, per cell, in percent.
  struct trim_values {
    std::vector<double> needs, gets, error;
    std::vector<std::string> below;
    std::string marks;
  };

  void trim_chart(std::size_t i, const trim_values& values) {
    std::vector<double> low, high;
    for (std::size_t k = 0; k < values.needs.size(); ++k) {
      low.push_back(values.needs[k] - 2 * values.error[k]);
      high.push_back(values.needs[k] + 2 * values.error[k]);
    }
    page_.picture(report::draw(report::interval_chart{
                      .x_label = result_.shape.axis_names[0],
                      .y_label = "fuel trim in %",
                      .x = points(),
                      .series = {{"needed, with two standard errors", values.needs, low, high},
                                 {"loaded", values.gets, values.gets, values.gets}},
                      .limits = {{100 * result_.limits.richer, "richest"}, {-100 * result_.limits.leaner, "leanest"}}}),
                  fmt::format("Fuel trim of cylinder {}: what it needs and what is loaded", i + 1));
  }

  void trim_maps(const trim_values& values) {
    const report::diverging about_zero{.centre = 0, .reach = reach()};
    report::map_table gets = map("Fuel trim that is loaded", values.gets, 2, about_zero);
    gets.marks = values.marks;
    gets.meanings = report::state_meanings();
    gets.unmarked = report::in_words(fettle::cell_state::corrected);
    gets.outlined = report::mark_of(fettle::cell_state::still_lean);
    gets.below = values.below;
    page_.add(report::map_set{
        .label = "Show",
        .maps = {{"Loaded", std::move(gets)},
                 {"Needed", map("Fuel trim that is needed by the estimate", values.needs, 2, about_zero)},
                 {"Uncertainty", map("Standard error of what is needed", values.error, 3,
                                     report::sequential{.limits = report::range_without_outliers(values.error)})}}});
  }

  void trim_table(std::size_t i, const trim_values& values) {
    report::table table{
        .caption = "Fuel trim by region", .columns = {{"Needs %", true}, {"Gets %", true}, {"State"}}, .rows = {}};
    for (const auto& column : axis_columns()) table.columns.push_back(column);
    table.columns.push_back({"Uncertainty %", true});
    table.columns.push_back({"Driven s", true});
    const auto shown = [](double value, report::sign sign) {
      return std::isfinite(value) ? report::number(value, 2, sign) : "-";
    };
    for (std::size_t k = 0; k < values.needs.size(); ++k) {
      std::vector<std::string> row{shown(values.needs[k], report::sign::always),
                                   shown(values.gets[k], report::sign::always),
                                   report::in_words(result_.loaded[i].state[k])};
      for (auto& words : point_words(k)) row.push_back(words);
      row.push_back(shown(values.error[k], report::sign::minus_only));
      row.push_back(fmt::format("{:.0f}", result_.trims.seconds[k]));
      table.rows.push_back(std::move(row));
    }
    page_.add(table);
  }

  void sensors() {
    page_.section("Sensors");
    page_.paragraph("The gain multiplies phi: above 1 a sensor reads rich of the truth.");
    report::table table{.caption = "Gains of the sensors",
                        .columns = {{"Sensor"},
                                    {"Gain", true},
                                    {"Standard error %", true},
                                    {"Scatter %", true},
                                    {"Lag s", true},
                                    {"Pipe gas g", true},
                                    {""}},
                        .rows = {}};
    for (std::size_t s = 0; s < result_.map.gains.size(); ++s) {
      const auto& gain = result_.map.gains[s];
      const auto& path = result_.map.with.sensors[s];
      const bool calibrated = result_.session.sensors[s].is_calibrated, is_separable = result_.trims.separable.gain[s];
      table.rows.push_back({result_.session.sensors[s].name, is_separable ? fmt::format("{:.4f}", gain.value) : "-",
                            is_separable && !calibrated ? fmt::format("{:.2f}", 100 * gain.relative_error) : "-",
                            fmt::format("{:.2f}", 100 * result_.map.scatter[s].noise),
                            fmt::format("{:.3f}", path.lag_s.value), fmt::format("{:.2f}", path.pipe_gas_mass_g.value),
                            calibrated     ? "calibrated"
                            : is_separable ? "identified"
                                           : "not identifiable"});
    }
    page_.add(table);
    report::table seats{.caption = "Where each sensor sat", .columns = {{"Run"}}, .rows = {}};
    for (const auto& sensor : result_.session.sensors) seats.columns.push_back({sensor.name, true});
    for (std::size_t l = 0; l < result_.session.log_paths.size(); ++l) {
      const auto during_log = result_.session.during(l);
      std::vector<std::string> row{fettle::path_text(result_.session.log_paths[l].filename())};
      for (const auto& sensor : during_log.sensors)
        row.push_back(!sensor.is_fitted          ? "-"
                      : sensor.cylinders.empty() ? "collector"
                                                 : fmt::format("cylinder{} {}", sensor.cylinders.size() > 1 ? "s" : "",
                                                               fmt::join(sensor.cylinders, " and ")));
      seats.rows.push_back(std::move(row));
    }
    page_.add(seats);
  }

  void readings() {
    page_.section("Which readings count");
    report::table table{.caption = "Readings by sensor and reason, all runs", .columns = {{"Reason"}}, .rows = {}};
    for (const auto& sensor : result_.session.sensors) table.columns.push_back({sensor.name, true});
    for (std::size_t k = 0; k < fettle::rejection_kinds; ++k) {
      const auto why = static_cast<fettle::rejection>(k);
      std::vector<std::string> row{std::string(fettle::describe(why))};
      std::size_t all = 0;
      for (std::size_t s = 0; s < result_.session.sensors.size(); ++s) {
        std::size_t count = 0;
        for (const auto& log : result_.trims.rejected) count += log[s][why];
        row.push_back(std::to_string(count));
        all += count;
      }
      if (all > 0) table.rows.push_back(std::move(row));
    }
    page_.add(table);
  }

  [[nodiscard]] report::map_table map(std::string caption, std::span<const double> values, int decimals,
                                      report::scale colours) const {
    auto table = report::map_over_axes(result_.shape, std::move(caption), values);
    table.decimals = decimals;
    table.unit = "%";
    table.colours = std::move(colours);
    return table;
  }

  [[nodiscard]] std::vector<report::column> axis_columns() const {
    std::vector<report::column> result;
    for (const auto& name : result_.shape.axis_names) result.push_back({name, true});
    return result;
  }
  [[nodiscard]] std::vector<std::string> point_words(std::size_t cell) const {
    std::vector<std::string> result;
    for (const double x : result_.point(cell)) result.push_back(fmt::format("{:g}", x));
    return result;
  }
  [[nodiscard]] const std::vector<double>& points() const { return result_.shape.table.axes()[0].points(); }
  [[nodiscard]] double reach() const { return 100 * std::max(result_.limits.richer, result_.limits.leaner); }
  const outcome& result_;
  report::page page_;
};

}  // namespace detail

/// The whole report, one HTML file.
[[nodiscard]] inline std::string report_html(const outcome& result) {
  return detail::report_writer(result).html();
}

}  // namespace trim_cylinders

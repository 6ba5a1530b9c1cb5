// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/core.h>

#include <cmath>
#include <cstddef>
#include <initializer_list>
#include <string>
#include <utility>
#include <vector>

#include "common/report/cautions.hpp"
#include "common/report/cell_states.hpp"
#include "common/report/interval_chart.hpp"
#include "common/report/line_chart.hpp"
#include "common/report/page.hpp"
#include "trim_cylinders/job.hpp"
#include "trim_cylinders/terminal.hpp"

namespace trim_cylinders {
namespace detail {

/// Turns an outcome into the sections of a page.
class report_writer {
 public:
  explicit report_writer(const outcome& of)
      : of_{of},
        page_{of.session.title, fmt::format("Trims of {} cylinders from {} log rows, {:.1f} minutes in {} runs",
                                            of.cylinders(), of.rows, of.minutes, of.session.log_paths.size())} {}

  [[nodiscard]] std::string html() {
    result();
    leanest();
    if (of_.shape.table.rank() == 1) all_cylinders();
    for (std::size_t i = 0; i < of_.cylinders(); ++i) cylinder(i);
    sensors();
    readings();
    return page_.html();
  }

 private:
  void result() {
    page_.section("Result");
    page_.notice("Before you load these trims", report::cautions);
    if (!of_.alarms.empty()) page_.notice("Lean cylinders", of_.alarms);
    std::size_t told = 0;
    for (const bool one : of_.trims.told.trim) told += one ? 1 : 0;
    page_.facts(
        {{"Spread of lambda between cylinders, mean over the time driven",
          fmt::format("{:.2f} % before, {:.2f} % predicted after", 100 * of_.spread(&fettle::region::spread_before),
                      100 * of_.spread(&fettle::region::spread_after))},
         {"Trims told apart from sensor gains", fmt::format("{} of {}", told, of_.cylinders())},
         {"Authority of one pass",
          fmt::format("{:g} % richer, {:g} % leaner", 100 * of_.limits.richer, 100 * of_.limits.leaner)},
         {"Noise of a reading", fmt::format("{:.2f} % of phi", 100 * of_.map.noise)}});
    if (told < of_.cylinders())
      page_.paragraph(
          "Not separable: these runs leave some trims mixed with the gains of the sensors that read them. Such trims "
          "are not applied; what was found stays near no trim at all. Move the sensors between runs and measure "
          "again.");
    if (!of_.remarks.empty()) page_.notice("What to know about these runs", of_.remarks);
    if (!of_.next.empty()) page_.notice("What to do next", of_.next);
  }

  void leanest() {
    page_.section("The leanest cylinder everywhere");
    page_.paragraph(
        "A sensor after the collector reads the air-weighted mean of phi. The leanest cylinder stands beside it, as it "
        "was and as predicted with the trims loaded.");
    report::table table{.caption = "Lambda by region", .columns = axis_columns(), .rows = {}};
    for (const auto& column : std::initializer_list<report::column>{{"Time s", true},
                                                                    {"Target", true},
                                                                    {"Collector", true},
                                                                    {"Leanest", true},
                                                                    {"Its lambda", true},
                                                                    {"after", true},
                                                                    {"Spread %", true},
                                                                    {"after %", true},
                                                                    {"Alarm"}})
      table.columns.push_back(column);
    for (const auto& one : of_.regions) {
      std::vector<std::string> row = point_words(one.cell);
      for (auto& words : std::initializer_list<std::string>{
               fmt::format("{:.0f}", one.seconds), fmt::format("{:.3f}", one.target_lambda),
               fmt::format("{:.3f}", one.collector_lambda),
               fmt::format("{}{}", one.leanest, of_.trims.told.trim[one.leanest - 1] ? "" : " ?"),
               fmt::format("{:.3f}", one.leanest_lambda), fmt::format("{:.3f}", one.leanest_after),
               fmt::format("{:.2f}", 100 * one.spread_before), fmt::format("{:.2f}", 100 * one.spread_after),
               one.hidden       ? "lean, hidden"
               : one.lean_alarm ? "lean"
                                : ""})
        row.push_back(words);
      table.rows.push_back(std::move(row));
    }
    page_.add(table);
    page_.paragraph(fmt::format(
        "Hidden: the collector is within {:g} % of the target, so it alone would not show this cylinder. A question "
        "mark: this cylinder's trim is not told apart from its sensor's gain.",
        100 * of_.alarm.collector_slack));
  }

  void all_cylinders() {
    page_.section("All cylinders");
    for (const bool after : {false, true}) {
      std::vector<std::vector<double>> lambda(of_.cylinders());
      std::vector<double> x, collector, target;
      for (const auto& one : of_.regions) {
        x.push_back(points()[one.cell]);
        collector.push_back(one.collector_lambda);
        target.push_back(one.target_lambda);
        for (std::size_t i = 0; i < of_.cylinders(); ++i)
          lambda[i].push_back(one.collector_lambda * of_.trims.correction[i][one.cell] /
                              (after ? of_.loaded[i].applied[one.cell] : 1));
      }
      report::line_chart chart{.x_label = of_.shape.axis_names[0], .y_label = "lambda"};
      for (std::size_t i = 0; i < of_.cylinders(); ++i)
        chart.series.push_back({fmt::format("cylinder {}", i + 1), x, lambda[i], report::drawn_as::line_and_points});
      chart.series.push_back({"collector", x, collector});
      chart.series.push_back({"target", x, target});
      page_.picture(report::draw(chart), after ? "Lambda of each cylinder as predicted with the trims loaded"
                                               : "Lambda of each cylinder as it was, and what the collector showed");
    }
  }

  void cylinder(std::size_t i) {
    page_.section(fmt::format("Cylinder {}", i + 1));
    const std::size_t cells = of_.trims.correction[i].size();
    std::vector<double> applied_pct, asked_pct, low, high, error_pct;
    std::string marks;
    for (std::size_t k = 0; k < cells; ++k) {
      const bool known = of_.is_measured(i, k);
      const double asked = known ? 100 * (of_.trims.correction[i][k] - 1) : std::nan("");
      const double error = known ? 100 * of_.trims.standard_error[i][k] : std::nan("");
      applied_pct.push_back(100 * (of_.loaded[i].applied[k] - 1));
      asked_pct.push_back(asked);
      low.push_back(asked - 2 * error);
      high.push_back(asked + 2 * error);
      error_pct.push_back(error);
      marks += report::mark_of(of_.loaded[i].state[k]);
    }
    if (!of_.trims.told.trim[i])
      page_.paragraph(
          "Not separable: the trim of this cylinder cannot be told from the gain of the sensor that read it.");
    if (of_.shape.table.rank() == 1) {
      const auto& x = points();
      page_.picture(report::draw(report::interval_chart{
                        .x_label = of_.shape.axis_names[0],
                        .y_label = "fuel trim in %",
                        .x = x,
                        .series = {{"asked, with two standard errors", asked_pct, low, high},
                                   {"applied", applied_pct, applied_pct, applied_pct}},
                        .limits = {{100 * of_.limits.richer, "richest"}, {-100 * of_.limits.leaner, "leanest"}}}),
                    fmt::format("Fuel trim of cylinder {}: what it asks for and what is applied in this pass", i + 1));
    }
    if (of_.shape.table.rank() == 2) {
      add("Fuel trim, applied", applied_pct, 2, report::diverging{.centre = 0, .reach = reach()}, marks);
      add("Fuel trim, asked", asked_pct, 2, report::diverging{.centre = 0, .reach = reach()}, {});
      add("Standard error of the trim", error_pct, 3, report::sequential{}, {});
      return;
    }
    report::table table{.caption = "Fuel trim by region", .columns = axis_columns(), .rows = {}};
    for (const auto& column : std::initializer_list<report::column>{
             {"Asked %", true}, {"Applied %", true}, {"Standard error %", true}, {"Readings", true}, {"State"}})
      table.columns.push_back(column);
    const auto shown = [](double value, int decimals) {
      return std::isfinite(value) ? report::number(value, decimals, report::sign::always) : "-";
    };
    for (std::size_t k = 0; k < cells; ++k) {
      std::vector<std::string> row = point_words(k);
      for (auto& words : std::initializer_list<std::string>{
               shown(asked_pct[k], 2), shown(applied_pct[k], 2),
               std::isfinite(error_pct[k]) ? fmt::format("{:.3f}", error_pct[k]) : "-",
               fmt::format("{:.0f}", of_.trims.readings[i][k]), report::in_words(of_.loaded[i].state[k])})
        row.push_back(words);
      table.rows.push_back(std::move(row));
    }
    page_.add(table);
  }

  void sensors() {
    page_.section("Sensors");
    page_.paragraph("The gain multiplies phi: above 1 a sensor reads rich of the truth.");
    report::table table{
        .caption = "Gains of the sensors",
        .columns =
            {{"Sensor"}, {"Gain", true}, {"Standard error %", true}, {"Lag s", true}, {"Pipe gas g", true}, {""}},
        .rows = {}};
    for (std::size_t s = 0; s < of_.map.gains.size(); ++s) {
      const auto& one = of_.map.gains[s];
      const auto& path = of_.map.with.sensors[s];
      const bool calibrated = of_.session.sensors[s].is_calibrated, told = of_.trims.told.gain[s];
      table.rows.push_back({of_.session.sensors[s].name, told ? fmt::format("{:.4f}", one.value) : "-",
                            told && !calibrated ? fmt::format("{:.2f}", 100 * one.relative_error) : "-",
                            fmt::format("{:.3f}", path.lag_s.value), fmt::format("{:.2f}", path.pipe_gas_mass_g.value),
                            calibrated ? "calibrated"
                            : told     ? "found"
                                       : "not separable"});
    }
    page_.add(table);
    report::table seats{.caption = "Who sat where", .columns = {{"Run"}}, .rows = {}};
    for (const auto& sensor : of_.session.sensors) seats.columns.push_back({sensor.name, true});
    for (std::size_t l = 0; l < of_.session.log_paths.size(); ++l) {
      const auto then = of_.session.during(l);
      std::vector<std::string> row{of_.session.log_paths[l].filename().string()};
      for (const auto& sensor : then.sensors)
        row.push_back(!sensor.is_fitted      ? "-"
                      : sensor.cylinder == 0 ? "collector"
                                             : fmt::format("cylinder {}", sensor.cylinder));
      seats.rows.push_back(std::move(row));
    }
    page_.add(seats);
  }

  void readings() {
    page_.section("Which readings count");
    report::table table{.caption = "Readings by sensor and reason, all runs", .columns = {{"Reason"}}, .rows = {}};
    for (const auto& sensor : of_.session.sensors) table.columns.push_back({sensor.name, true});
    for (std::size_t k = 0; k < fettle::rejection_kinds; ++k) {
      const auto why = static_cast<fettle::rejection>(k);
      std::vector<std::string> row{std::string(fettle::describe(why))};
      std::size_t all = 0;
      for (std::size_t s = 0; s < of_.session.sensors.size(); ++s) {
        std::size_t count = 0;
        for (const auto& log : of_.trims.rejected) count += log[s][why];
        row.push_back(std::to_string(count));
        all += count;
      }
      if (all > 0) table.rows.push_back(std::move(row));
    }
    page_.add(table);
  }

  void add(std::string caption, std::span<const double> values, int decimals, report::scale colours,
           std::string_view marks) {
    const auto& axes = of_.shape.table.axes();
    report::map_table table{.caption = std::move(caption),
                            .rows = {of_.shape.axis_names[0], axes[0].points()},
                            .columns = {of_.shape.axis_names[1], axes[1].points()},
                            .values = values,
                            .decimals = decimals,
                            .unit = "%",
                            .colours = std::move(colours),
                            .marks = marks,
                            .meanings = {}};
    if (!marks.empty()) table.meanings = report::state_meanings();
    page_.add(table);
  }

  [[nodiscard]] std::vector<report::column> axis_columns() const {
    std::vector<report::column> result;
    for (const auto& name : of_.shape.axis_names) result.push_back({name, true});
    return result;
  }
  [[nodiscard]] std::vector<std::string> point_words(std::size_t cell) const {
    std::vector<std::string> result;
    for (const double x : of_.point(cell)) result.push_back(fmt::format("{:g}", x));
    return result;
  }
  [[nodiscard]] const std::vector<double>& points() const { return of_.shape.table.axes()[0].points(); }
  [[nodiscard]] double reach() const { return 100 * std::max(of_.limits.richer, of_.limits.leaner); }
  const outcome& of_;
  report::page page_;
};

}  // namespace detail

/// The whole report, one HTML file.
[[nodiscard]] inline std::string report_html(const outcome& of) {
  return detail::report_writer(of).html();
}

}  // namespace trim_cylinders

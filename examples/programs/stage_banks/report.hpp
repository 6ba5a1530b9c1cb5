// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/core.h>

#include <array>
#include <cmath>
#include <cstddef>
#include <set>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "common/report/interval_chart.hpp"
#include "common/report/line_chart.hpp"
#include "common/report/map_over_axes.hpp"
#include "common/report/page.hpp"
#include "common/session/cell_name.hpp"
#include "stage_banks/files.hpp"
#include "stage_banks/job.hpp"
#include "stage_banks/terminal.hpp"

namespace stage_banks {
namespace detail {

/// Turns an outcome into the sections of a page.
class report_writer {
 public:
  explicit report_writer(const outcome& results)
      : results_{results},
        page_{results.session.title, "Two banks of injectors: sizes, plan, simulated staging, simulated power"} {}

  [[nodiscard]] std::string html() {
    page_.answers(verdict_of(results_, share_map_name));
    result();
    banks();
    plan();
    staging();
    power();
    return page_.html();
  }

 private:
  void result() {
    page_.section("Result");
    page_.notice("Simulated", std::array{fmt::format(fmt::runtime(simulated), results_.seed)});
    std::vector<std::pair<std::string, std::string>> facts{{"Injectors", sizing_in_words(results_)}};
    facts.push_back({"Did the second bank make power?", power_in_words(results_.power)});
    facts.push_back({"Cells of the plan that cannot be met", std::to_string(results_.unmet_cells().size())});
    page_.facts(facts);
    aim();
  }

  /// The aim of staging and the result of each passage.
  void aim() {
    const auto& settings = results_.session.staging;
    std::vector<std::vector<std::string>> rows;
    const auto towards = [](const excursion_size& size, std::size_t way) {
      return fmt::format("{:.2f} {}", 100 * size.largest[way], size.is_lean(way) ? "lean" : "rich");
    };
    for (const auto& passage : results_.passages)
      for (std::size_t way = 0; way < 2; ++way)
        rows.push_back(
            {unbroken(passage.through.name), way == 0 ? "up" : "down",
             passage.meets_aim(way, settings.lambda_excursion) ? "met" : "missed",
             fmt::format("{:.0f}", std::floor(100 * passage.largest_film_error(way, settings.lambda_excursion))),
             towards(passage.expected.staging, way), towards(passage.worst.staging, way),
             towards(passage.constant_split.staging, way), towards(passage.opened_at_once(), way),
             towards(passage.expected.single, way), towards(passage.expected.total, way)});
    page_.add(report::table{
        .caption = fmt::format("Largest lambda excursion in %, compensated with film values {:.2g} % wrong",
                               100 * settings.film_error),
        .columns = {{"Passage"},
                    {"Way"},
                    {"Aim"},
                    {"Met if films are within %", true},
                    {"Staging, both banks alike", true},
                    {"Staging, worst combination", true},
                    {"Split kept constant", true},
                    {"Opened at once", true},
                    {"Unavoidable even with one bank", true},
                    {"Total", true}},
        .rows = std::move(rows)});
    page_.paragraph(aim_in_words(settings) +
                    ". Worst combination: share and time of each bank wrong in whatever direction does most harm; the "
                    "aim does not cover it. The columns are explained under \"Lambda through staging\".");
  }

  void banks() {
    page_.section("Both banks");
    std::vector<std::vector<std::string>> rows;
    for (std::size_t b = 0; b < results_.banks.size(); ++b) {
      const auto& bank = results_.banks[b];
      const auto size = size_bank(results_, b);
      rows.push_back({bank.name, fmt::format("{:.2f}", bank.flow_mg_ms), fmt::format("{:.1f}", size.static_g_per_min),
                      fmt::format("{:.1f}", size.static_cm3_per_min),
                      results_.session.goal ? fmt::format("{:.1f}", size.needed_g_per_min) : "no target",
                      fmt::format("{:.0f}", size.carried_power_kw),
                      fmt::format("{:.3f}", bank.dead_ms(results_.session.staging.battery_v)),
                      fmt::format("{:.3f}", bank.smallest_pulse_ms), fmt::format("{:.0f}", 100 * bank.largest_duty),
                      fmt::format("{:.3f}", bank.film.share), fmt::format("{:.3f}", bank.film.time_s)});
    }
    page_.add(report::table{.caption = fmt::format("Injectors, one per cylinder and bank; dead time at {:g} V",
                                                   results_.session.staging.battery_v),
                            .columns = {{"Bank"},
                                        {"Static flow mg/ms", true},
                                        {"g/min", true},
                                        {"cm\u00b3/min", true},
                                        {"Needed alone g/min", true},
                                        {"Carries kW", true},
                                        {"Dead time ms", true},
                                        {"Smallest pulse ms", true},
                                        {"Largest duty %", true},
                                        {"Film share", true},
                                        {"Film time s", true}},
                            .rows = std::move(rows)});
    page_.paragraph(sizing_in_words(results_) +
                    ". Required flow = power x specific consumption, shared by the injectors of "
                    "one bank, open for the duty allowed.");
  }

  void plan() {
    const auto& settings = results_.session.staging;
    page_.section("Plan");
    std::string guard;
    for (std::size_t i = 0; i < results_.planned.guard_rpm.size(); ++i)
      guard += fmt::format("{}{:g} % at {:g} rpm", guard.empty() ? "" : ", ", results_.planned.guard_throttle_pct[i],
                           results_.planned.guard_rpm[i]);
    page_.paragraph(fmt::format(
        "Share of the second bank, planned for lambda {:g}, {:g} V, {:.0f} % of duty in reserve on the primary. It is "
        "zero below {:g} rpm and below the throttle guard ({}), zero or enough for the smallest pulse, and no steeper "
        "than {:g} per 1000 rpm and {:g} per % of throttle. In time it changes by {:.3f} a second at most, unless the "
        "primary needs relief or the throttle closes below the guard; when speed falls quickly it may so outlast the "
        "slowest speed for a moment, with the throttle open.",
        settings.richest_lambda, settings.battery_v, 100 * settings.primary_reserve, settings.slowest_rpm, guard,
        settings.steepest_per_1000rpm, settings.steepest_per_throttle_pct, results_.planned.fastest_share_per_s));
    std::string marks;
    for (const auto why : results_.planned.unmet) marks += why == fettle::unmet_cell::none ? ' ' : '!';
    maps(marks);
    std::vector<std::vector<std::string>> rows;
    const auto over = [&](double primary_duty) {
      const double largest = largest_duty(results_.banks);
      if (primary_duty > largest) return ", OVER ITS LIMIT";
      return primary_duty > largest - settings.primary_reserve ? ", into the reserve" : "";
    };
    std::set<std::string> remedies;
    for (const std::size_t k : results_.unmet_cells()) {
      const auto why = results_.planned.unmet[k];
      rows.push_back(
          {session::cell_name(results_.planned.demand, k),
           fmt::format("{:.1f}", results_.planned.demand.table.values()[k]),
           fmt::format("{:.1f}", 100 * results_.planned.primary_duty[k]) + over(results_.planned.primary_duty[k]),
           fmt::format("{:.1f}", 100 * results_.planned.secondary_duty[k]), in_words(why)});
      remedies.insert(fmt::format("{}: {}", in_words(why), remedy(why)));
    }
    if (rows.empty()) return;
    page_.add(report::table{
        .caption = "Cells that cannot be met, those that lack most fuel first",
        .columns = {{"Cell"}, {"Fuel mg", true}, {"Primary duty %", true}, {"Secondary duty %", true}, {"Why"}},
        .rows = std::move(rows)});
    page_.notice("What would meet them", remedies);
  }

  void staging() {
    page_.section("Lambda through staging, simulated");
    page_.paragraph(definition);
    page_.paragraph(
        "One ideal bank has excursions too, large ones when the throttle snaps, because the throttle moves on after "
        "the pulse of the cycle is fixed. Staging cannot change that: they are the unavoidable part.");
    page_.paragraph(
        "The single bank never opens the second one. \"Opened at once\" switches it on in one cycle. Blended follows "
        "the share map. Compensated also makes up for the wall films of both banks, by the film values under \"Both "
        "banks\". A passage rests at both ends until the films have settled.");
    page_.paragraph(bound_in_words(results_));
    page_.paragraph(
        "When throttle or speed fall quickly, fuel that the second bank left on the wall comes off into far less new "
        "fuel; how much is as uncertain as the film values, and no injector can take it back. There compensation is "
        "only as good as those values; the table shows what better ones are worth.");
    for (const auto& each : results_.passages) passage(each);
  }

  void passage(const passage_result& driven) {
    page_.subheading(fmt::format("By {}", driven.through.name));
    strategies_table(driven);
    film_accuracy_table(driven);
    std::array<std::vector<double>, strategies.size()> pct;
    report::line_chart chart{.x_label = "time in s", .y_label = "staging in %, above 0: lean", .size = {1000, 340}};
    for (const strategy how : {strategy::opened_at_once, strategy::blended, strategy::compensated}) {
      const auto i = static_cast<std::size_t>(how);
      for (const double x : driven.by_strategy[i].staging) pct[i].push_back(100 * x);
      chart.series.push_back({in_words(how), driven.by_strategy[i].made.time_s, pct[i]});
    }
    page_.picture(report::draw(chart),
                  fmt::format("What staging does to lambda by {}, first up and then down", driven.through.name));
    const trace& t = driven.with(strategy::compensated).made;
    page_.picture(report::draw(report::line_chart{
                      .x_label = "time in s",
                      .y_label = "pulse in ms",
                      .series = {{"primary", t.time_s, t.primary_ms}, {"secondary", t.time_s, t.secondary_ms}},
                      .size = {1000, 300}}),
                  "Pulses of both banks, blended and film compensated");
  }

  void strategies_table(const passage_result& driven) {
    std::vector<std::vector<std::string>> rows;
    const auto size = [](const excursion_size& s) {
      std::vector<std::string> cells;
      for (std::size_t way = 0; way < 2; ++way) {
        cells.push_back(fmt::format("{:.2f}", 100 * s.largest[way]));
        cells.push_back(fmt::format("{:.2f}", 100 * s.rms[way]));
      }
      return cells;
    };
    const auto margin = [](double ms) { return std::isnan(ms) ? std::string("shut") : fmt::format("{:.2f}", ms); };
    for (const strategy how : strategies) {
      const auto& r = driven.with(how);
      std::vector<std::string> row{in_words(how)};
      for (auto& cell : size(r.staging_size)) row.push_back(std::move(cell));
      for (const double largest : r.total_size.largest) row.push_back(fmt::format("{:.2f}", 100 * largest));
      for (std::size_t b = 0; b < 2; ++b) {
        row.push_back(fmt::format("{:.0f}", 100 * r.largest_duty[b]));
        row.push_back(margin(r.pulse_margin_ms[b]));
      }
      rows.push_back(std::move(row));
    }
    page_.add(report::table{.caption = "Lambda excursions in %, largest duty in %, smallest pulse margin in ms",
                            .columns = {{"Strategy"},
                                        {"Staging, up", true},
                                        {"rms", true},
                                        {"Staging, down", true},
                                        {"rms", true},
                                        {"Total, up", true},
                                        {"Total, down", true},
                                        {"Primary duty", true},
                                        {"margin", true},
                                        {"Secondary duty", true},
                                        {"margin", true}},
                            .rows = std::move(rows)});
  }

  void film_accuracy_table(const passage_result& driven) {
    std::vector<std::vector<std::string>> rows;
    for (const auto& films : driven.known) {
      std::vector<std::string> row{films.name};
      for (const auto* part : {&films.size.staging, &films.size.single, &films.size.total})
        for (const double largest : part->largest) row.push_back(fmt::format("{:.2f}", 100 * largest));
      rows.push_back(std::move(row));
    }
    page_.add(report::table{
        .caption = "Compensated, by what is known of the films (share and time each): largest lambda excursion in %",
        .columns = {{"Film values"},
                    {"Staging, up", true},
                    {"down", true},
                    {"Unavoidable even with one bank, up", true},
                    {"down", true},
                    {"Total, up", true},
                    {"down", true}},
        .rows = std::move(rows)});
  }

  void power() {
    const auto& q = results_.power;
    page_.section("Did the second bank make power? Simulated pulls");
    page_.paragraph(power_in_words(q));
    page_.paragraph(fmt::format(
        "{} pulls with the plan and {} with the second bank only where the primary cannot do without, in turn. Torque "
        "is brought to 99 kPa of dry air at 25 \u00b0C by ISO 1585, torque x (99/p)^1.2 (T/298 K)^0.6 (the formula as "
        "public texts state it; the standard was not read); the factors of "
        "these pulls go from {:.4f} to {:.4f}. Intervals hold with 95 % at each speed by itself (Student's t, pooled "
        "scatter). Pulls needed: of each kind, so that a true gain of {:g} % is shown with a chance of 80 %.",
        q.pulls, q.pulls, q.least_factor, q.greatest_factor, 100 * q.gain));
    std::vector<std::vector<std::string>> rows;
    std::vector<double> rpm, difference, low, high, truth;
    for (const auto& p : q.points) {
      const auto& m = p.measured;
      rows.push_back(
          {fmt::format("{:g}", p.rpm), fmt::format("{:.2f}", p.share_a), fmt::format("{:.2f}", p.share_b),
           fmt::format("{:.1f}", m.mean_a), fmt::format("{:.1f}", m.mean_b), fmt::format("{:+.2f}", m.difference()),
           fmt::format("{:+.2f} to {:+.2f}", m.difference() - m.half_width, m.difference() + m.half_width),
           m.is_shown() ? "yes" : "no", fmt::format("{:+.2f}", p.true_difference), pulls_in_words(p.pulls_needed)});
      rpm.push_back(p.rpm);
      difference.push_back(m.difference());
      low.push_back(m.difference() - m.half_width);
      high.push_back(m.difference() + m.half_width);
      truth.push_back(p.true_difference);
    }
    page_.add(report::table{.caption = "Torque in N m at standard air",
                            .columns = {{"rpm", true},
                                        {"Share with", true},
                                        {"Share without", true},
                                        {"With", true},
                                        {"Without", true},
                                        {"Difference", true},
                                        {"95 % interval", true},
                                        {"Shown"},
                                        {"True here", true},
                                        {"Pulls needed", true}},
                            .rows = std::move(rows)});
    page_.picture(
        report::draw(report::interval_chart{.x_label = "speed in rpm",
                                            .y_label = "torque gained in N m",
                                            .x = rpm,
                                            .series = {{"measured in pulls, 95 % interval", difference, low, high},
                                                       {"true in the virtual engine", truth, truth, truth}},
                                            .limits = {{0, "no difference"}}}),
        "Torque gained by the second bank per speed, with 95 % intervals");
  }

  void maps(std::string_view marks) {
    struct shown {
      const char *name, *caption;
      const std::vector<double>* values;
      double factor;
      int decimals;
      const char* unit;
    };
    const auto& planned = results_.planned;
    const std::array<shown, 4> all{
        {{"Share", "Share of the secondary bank", &planned.share, 100, 0, "%"},
         {"Primary duty", "Duty of the primary bank", &planned.primary_duty, 100, 0, "%"},
         {"Secondary duty", "Duty of the secondary bank", &planned.secondary_duty, 100, 0, "%"},
         {"Pulse margin", "Smallest distance of a pulse from the smallest allowed", &planned.pulse_margin_ms, 1, 2,
          "ms"}}};
    std::array<std::vector<double>, all.size()> values;  // which the tables only refer to
    report::map_set set{.label = "Show", .maps = {}};
    for (std::size_t m = 0; m < all.size(); ++m) {
      for (const double value : *all[m].values) values[m].push_back(all[m].factor * value);
      auto table = report::map_over_axes(planned.demand, all[m].caption, values[m]);
      table.decimals = all[m].decimals;
      table.unit = all[m].unit;
      table.marks = marks;
      if (marks.find('!') != std::string_view::npos) {
        table.meanings = {{'!', "cannot be met: see the list below"}};
        table.unmarked = "met";
      }
      set.maps.push_back({all[m].name, std::move(table)});
    }
    page_.add(set);
  }

  /// "throttle, quick" on one line.
  [[nodiscard]] static std::string unbroken(const std::string& words) {
    std::string result;
    for (const char letter : words) result += letter == ' ' ? "\u00a0" : std::string(1, letter);
    return result;
  }

  const outcome& results_;
  report::page page_;
};

}  // namespace detail

/// The whole report, one HTML file.
[[nodiscard]] inline std::string report_html(const outcome& results) {
  return detail::report_writer(results).html();
}

}  // namespace stage_banks

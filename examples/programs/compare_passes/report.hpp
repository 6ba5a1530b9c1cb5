// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/format.h>

#include <cstddef>
#include <string>
#include <utility>
#include <vector>

#include "common/report/page.hpp"
#include "common/session/cell_name.hpp"
#include "compare_passes/job.hpp"
#include "compare_passes/terminal.hpp"
#include "compare_passes/words.hpp"

namespace compare_passes {
namespace detail {

/// Turns a comparison into the sections of a page.
class report_writer {
 public:
  explicit report_writer(const outcome& result)
      : result_{result},
        last_{result.last()},
        page_{last_.later.session.title, "Passes compared: predicted and shown"} {}

  [[nodiscard]] std::string html() {
    page_.answers(verdict_of(last_));
    page_.section("Result");
    passes();
    worse();
    page_.section("Maps");
    page_.paragraph(
        "Above zero a cell needs more fuel than it has: it is lean. A cell that was driven in one of two passes only "
        "has "
        "nothing to compare. All maps have one scale of colours.");
    map(result_.steps.front(), "Needed before the first correction", &fettle::pass_cell::before);
    for (std::size_t i = 0; i < result_.steps.size(); ++i)
      map(result_.steps[i], fmt::format("Still needed after correction {}, as the next logs show", i + 1),
          &fettle::pass_cell::shown);
    map(last_, "Predicted to be needed after the last correction", &fettle::pass_cell::predicted);
    return page_.html();
  }

 private:
  void passes() {
    std::vector<std::vector<std::string>> rows;
    for (std::size_t i = 0; i < result_.steps.size(); ++i) {
      const step& one = result_.steps[i];
      const auto count = [&](fettle::pass_verdict verdict) { return std::to_string(one.compared.count(verdict)); };
      rows.push_back({std::to_string(i + 1), rms(one, &fettle::pass_cell::before),
                      rms(one, &fettle::pass_cell::predicted), rms(one, &fettle::pass_cell::shown),
                      count(fettle::pass_verdict::as_predicted), count(fettle::pass_verdict::better),
                      count(fettle::pass_verdict::worse)});
    }
    page_.add(report::table{.caption = "Fuel that the compared cells lack or have too much, rms in %",
                            .columns = {{"Correction"},
                                        {"Before", true},
                                        {"Predicted after", true},
                                        {"Shown after", true},
                                        {"Cells as predicted", true},
                                        {"Better", true},
                                        {"Worse", true}},
                            .rows = std::move(rows)});
    page_.paragraph("With honest errors 95 % of the cells are as predicted. In the last pass " + shift_in_words(last_) +
                    ".");
  }

  [[nodiscard]] static std::string rms(const step& one, double fettle::pass_cell::*part) {
    return fmt::format("{:.2f}", one.rms_pct(part));
  }

  void worse() {
    std::vector<std::vector<std::string>> rows;
    for (const std::size_t k : last_.worse_cells()) {
      const auto& cell = last_.compared.cells[k];
      rows.push_back({session::cell_name(last_.later.base, k), fmt::format("{:+.2f}", percent(cell.shown)),
                      fmt::format("{:+.2f}", percent(cell.predicted)), fmt::format("{:.2f}", 100 * cell.standard_error),
                      in_words(cell.reason), fmt::format("{:+.2f}", percent(cell.before))});
    }
    if (rows.empty()) {
      page_.paragraph("In the last pass no cell ended further from its target than predicted.");
      return;
    }
    page_.add(
        report::table{.caption = "Cells further from their target than predicted in the last pass: needed fuel in %",
                      .columns = {{"Cell"},
                                  {"Shown", true},
                                  {"Predicted", true},
                                  {"Standard error", true},
                                  {"Likely reason"},
                                  {"Before", true}},
                      .rows = std::move(rows)});
  }

  void map(const step& one, std::string caption, double fettle::pass_cell::*part) {
    constexpr double full_colour_pct = 10;
    std::vector<double> shown;
    std::string marks;
    for (const auto& cell : one.compared.cells) {
      shown.push_back(percent(cell.*part));
      marks += cell.verdict == fettle::pass_verdict::worse          ? '!'
               : cell.verdict == fettle::pass_verdict::better       ? '+'
               : cell.verdict == fettle::pass_verdict::not_compared ? 'n'
                                                                    : ' ';
    }
    const auto& base = one.later.base;
    const auto& axes = base.table.axes();
    static constexpr double one_column[] = {0};
    report::map_table table{
        .caption = std::move(caption),
        .rows = {base.axis_names[0], axes[0].points(), base.descending[0]},
        .columns = {"", one_column},
        .values = shown,
        .decimals = 1,
        .unit = "%",
        .colours = report::diverging{.centre = 0, .reach = full_colour_pct},
        .marks = marks,
        .meanings = {{'!', "worse than predicted"}, {'+', "better than predicted"}, {'n', "not compared"}}};
    if (axes.size() == 2) table.columns = {base.axis_names[1], axes[1].points(), base.descending[1]};
    page_.add(table);
  }

  const outcome& result_;
  const step& last_;
  report::page page_;
};

}  // namespace detail

/// The whole report, one HTML file.
[[nodiscard]] inline std::string report_html(const outcome& result) {
  return detail::report_writer(result).html();
}

}  // namespace compare_passes

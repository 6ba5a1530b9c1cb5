// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/format.h>

#include <cmath>
#include <cstddef>
#include <string>
#include <utility>
#include <vector>

#include "common/report/map_over_axes.hpp"
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
        page_{last_.later.session.title, "Passes compared: predicted and measured"} {}

  [[nodiscard]] std::string html() {
    page_.answers(verdict_of(last_));
    page_.section("Result");
    passes();
    worse();
    maps();
    return page_.html();
  }

 private:
  void passes() {
    std::vector<std::vector<std::string>> rows;
    for (std::size_t i = 0; i < result_.steps.size(); ++i) {
      const step& pass = result_.steps[i];
      const auto count = [&](fettle::pass_verdict verdict) { return std::to_string(pass.compared.count(verdict)); };
      rows.push_back({std::to_string(i + 1), rms(pass, &fettle::pass_cell::before),
                      rms(pass, &fettle::pass_cell::predicted), rms(pass, &fettle::pass_cell::shown),
                      count(fettle::pass_verdict::as_predicted), count(fettle::pass_verdict::better),
                      count(fettle::pass_verdict::worse)});
    }
    page_.add(report::table{.caption = "Fuel error of the compared cells, rms in %",
                            .columns = {{"Correction"},
                                        {"Before", true},
                                        {"After, predicted", true},
                                        {"After, measured", true},
                                        {"Cells as predicted", true},
                                        {"Better", true},
                                        {"Worse", true}},
                            .rows = std::move(rows)});
    page_.paragraph(fmt::format("{}. In the last pass {}.", coverage_in_words, shift_in_words(last_)));
  }

  [[nodiscard]] static std::string rms(const step& pass, double fettle::pass_cell::*part) {
    return fmt::format("{:.2f}", pass.rms_pct(part));
  }

  void worse() {
    std::vector<std::vector<std::string>> rows;
    for (const std::size_t k : last_.worse_cells()) {
      const auto& cell = last_.compared.cells[k];
      rows.push_back({session::cell_name(last_.later.base, k), fmt::format("{:+.2f}", percent(cell.shown)),
                      fmt::format("{:+.2f}", percent(cell.predicted)), fmt::format("{:+.2f}", percent(cell.before)),
                      fmt::format("{:.2f}", 100 * cell.standard_error), in_words(cell.reason)});
    }
    if (rows.empty()) {
      page_.paragraph("In the last pass no cell ended further from its target than predicted.");
      return;
    }
    page_.add(
        report::table{.caption = "Cells further from their target than predicted in the last pass: needed fuel in %",
                      .columns = {{"Cell"},
                                  {"Measured", true},
                                  {"Predicted", true},
                                  {"Before", true},
                                  {"Standard error", true},
                                  {"Likely reason"}},
                      .rows = std::move(rows)});
  }

  /// The last pass first, with its verdicts; then the way there.
  void maps() {
    page_.section("Maps");
    page_.paragraph(
        "Above zero a cell needs more fuel than it has: it is lean. A dash: not driven in that pass. All maps have one "
        "scale of colours.");
    const std::size_t steps = result_.steps.size();
    std::vector<std::vector<double>> values;  // which the tables only refer to
    values.reserve(steps + 2);
    report::map_set set{.label = "Show", .maps = {}};
    const auto add_map = [&](std::string name, std::string caption, const std::vector<fettle::cell_evidence>& driven,
                             const step& pass, double fettle::pass_cell::*part) {
      auto& shown = values.emplace_back();
      for (std::size_t k = 0; k < driven.size(); ++k)
        shown.push_back(driven[k].passes > 0 ? percent(pass.compared.cells[k].*part) : std::nan(""));
      set.maps.push_back({std::move(name), map(std::move(caption), shown)});
    };
    add_map(fmt::format("After {}", steps), fmt::format("Still needed after correction {}, from the next logs", steps),
            last_.later.evidence, last_, &fettle::pass_cell::shown);
    const std::string verdicts = marks(last_);
    set.maps.back().map.marks = verdicts;
    set.maps.back().map.meanings = {{'!', "worse than predicted"},
                                    {'+', "better than predicted"},
                                    {'n', "not compared: not driven in both passes"}};
    set.maps.back().map.unmarked = "as predicted";
    set.maps.back().map.outlined = '!';
    add_map("Predicted", "Predicted to be needed after the last correction", last_.earlier.evidence, last_,
            &fettle::pass_cell::predicted);
    add_map("Before", "Needed before the first correction", result_.steps.front().earlier.evidence,
            result_.steps.front(), &fettle::pass_cell::before);
    for (std::size_t i = 0; i + 1 < steps; ++i)
      add_map(fmt::format("After {}", i + 1),
              fmt::format("Still needed after correction {}, from the next logs", i + 1),
              result_.steps[i].later.evidence, result_.steps[i], &fettle::pass_cell::shown);
    page_.add(set);
  }

  [[nodiscard]] static std::string marks(const step& pass) {
    std::string result;
    for (const auto& cell : pass.compared.cells)
      result += cell.verdict == fettle::pass_verdict::worse          ? '!'
                : cell.verdict == fettle::pass_verdict::better       ? '+'
                : cell.verdict == fettle::pass_verdict::not_compared ? 'n'
                                                                     : ' ';
    return result;
  }

  [[nodiscard]] report::map_table map(std::string caption, const std::vector<double>& values) const {
    constexpr double full_colour_pct = 10;
    auto table = report::map_over_axes(last_.later.base, std::move(caption), values);
    table.unit = "%";
    table.colours = report::diverging{.centre = 0, .reach = full_colour_pct};
    return table;
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

// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/format.h>

#include <cstddef>
#include <string>
#include <utility>
#include <vector>

#include "common/report/cautions.hpp"
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
      : result_{result}, page_{result.later.session.title, "Two passes compared: predicted and shown"} {}

  [[nodiscard]] std::string html() {
    page_.section("Result");
    const report::verdict verdict = verdict_of(result_);
    page_.facts({{"Load", verdict.load}, {"Safe", verdict.safe}, {"Next", verdict.next}});
    page_.facts({{"Cells", counts_in_words(result_)},
                 {"Common to all cells", shift_in_words(result_)},
                 {"Before the correction, rms", rms(&fettle::pass_cell::before)},
                 {"Predicted after it, rms", rms(&fettle::pass_cell::predicted)},
                 {"Shown by the new logs, rms", rms(&fettle::pass_cell::shown)}});
    worse();
    page_.section("Maps");
    page_.paragraph(
        "Above zero a cell needs more fuel than it has: it is lean. A cell that was driven in one pass only has no "
        "prediction to compare.");
    map("Needed before the correction", &fettle::pass_cell::before);
    map("Predicted to be needed after it", &fettle::pass_cell::predicted);
    map("Shown by the new logs to be needed", &fettle::pass_cell::shown);
    return page_.html();
  }

 private:
  [[nodiscard]] std::string rms(double fettle::pass_cell::*part) const {
    return fmt::format("{:.2f} %", result_.rms_pct(part));
  }

  void worse() {
    std::vector<std::vector<std::string>> rows;
    for (const std::size_t k : result_.worse_cells()) {
      const auto& cell = result_.compared.cells[k];
      rows.push_back({session::cell_name(result_.later.base, k), fmt::format("{:+.2f}", percent(cell.shown)),
                      fmt::format("{:+.2f}", percent(cell.predicted)), fmt::format("{:.2f}", 100 * cell.standard_error),
                      in_words(cell.reason), fmt::format("{:+.2f}", percent(cell.before))});
    }
    if (rows.empty()) {
      page_.paragraph("No cell ended further from its target than predicted.");
      return;
    }
    page_.add(report::table{.caption = "Cells further from their target than predicted: needed fuel in %",
                            .columns = {{"Cell"},
                                        {"Shown", true},
                                        {"Predicted", true},
                                        {"Standard error", true},
                                        {"Likely reason"},
                                        {"Before", true}},
                            .rows = std::move(rows)});
  }

  void map(std::string caption, double fettle::pass_cell::*part) {
    std::vector<double> shown;
    std::string marks;
    for (const auto& cell : result_.compared.cells) {
      shown.push_back(percent(cell.*part));
      marks += cell.verdict == fettle::pass_verdict::worse          ? '!'
               : cell.verdict == fettle::pass_verdict::better       ? '+'
               : cell.verdict == fettle::pass_verdict::not_compared ? 'n'
                                                                    : ' ';
    }
    const auto& base = result_.later.base;
    const auto& axes = base.table.axes();
    page_.add(report::map_table{.caption = std::move(caption),
                                .rows = {base.axis_names[0], axes[0].points(), base.descending[0]},
                                .columns = {base.axis_names[1], axes[1].points(), base.descending[1]},
                                .values = shown,
                                .decimals = 1,
                                .unit = "%",
                                .colours = report::diverging{},
                                .marks = marks,
                                .meanings = {{'!', "worse than predicted"},
                                             {'+', "better than predicted"},
                                             {'n', "not compared"}}});
  }

  const outcome& result_;
  report::page page_;
};

}  // namespace detail

/// The whole report, one HTML file.
[[nodiscard]] inline std::string report_html(const outcome& result) { return detail::report_writer(result).html(); }

}  // namespace compare_passes

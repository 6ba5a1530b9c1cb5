// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/format.h>

#include <cstddef>
#include <string>

#include "common/session/cell_name.hpp"
#include "compare_passes/job.hpp"
#include "compare_passes/words.hpp"

namespace compare_passes {

/// How far the map was off in one pass, in a line: before its correction, predicted after it, measured after it.
[[nodiscard]] inline std::string step_in_words(const step& result) {
  return fmt::format("{:6.2f} %    {:6.2f} %    {:6.2f} %    {:4} of {:4} as predicted, {} better, {} worse",
                     result.rms_pct(&fettle::pass_cell::before), result.rms_pct(&fettle::pass_cell::predicted),
                     result.rms_pct(&fettle::pass_cell::shown),
                     result.compared.count(fettle::pass_verdict::as_predicted), result.compared.compared(),
                     result.compared.count(fettle::pass_verdict::better),
                     result.compared.count(fettle::pass_verdict::worse));
}

/// The outcome in a few lines.
[[nodiscard]] inline std::string summary(const outcome& result) {
  const step& last = result.last();
  std::string text = report::lines(verdict_of(last)) + "\n";
  const auto line = [&](const std::string& words) { text += words + "\n"; };
  line(last.later.session.title);
  line("fuel error of the compared cells, rms");
  line("  correction     before   predicted    measured    cells");
  for (std::size_t i = 0; i < result.steps.size(); ++i)
    line(fmt::format("  {:10}  {}", i + 1, step_in_words(result.steps[i])));
  line(fmt::format("  {}", coverage_in_words));
  line("  " + shift_in_words(last));
  const auto worse = last.worse_cells();
  if (worse.empty()) return text;
  line("");
  line("worse than predicted in the last pass, the leanest first");
  line("   before   predicted  measured  standard error   cell, likely reason");
  for (const std::size_t k : worse) {
    const auto& cell = last.compared.cells[k];
    line(fmt::format("  {:+6.2f} %   {:+6.2f} %   {:+6.2f} %      {:5.2f} %      {}: {}", percent(cell.before),
                     percent(cell.predicted), percent(cell.shown), 100 * cell.standard_error,
                     session::cell_name(last.later.base, k), in_words(cell.reason)));
  }
  return text;
}

}  // namespace compare_passes

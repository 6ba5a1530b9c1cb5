// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/format.h>

#include <cmath>
#include <cstddef>
#include <string>

#include "common/session/cell_name.hpp"
#include "compare_passes/job.hpp"
#include "compare_passes/words.hpp"

namespace compare_passes {

/// A change of fuel in percent from its natural logarithm.
[[nodiscard]] inline double percent(double logarithm) { return 100 * std::expm1(logarithm); }

/// The outcome in a few lines.
[[nodiscard]] inline std::string summary(const outcome& result) {
  std::string text = report::lines(verdict_of(result)) + "\n";
  const auto line = [&](const std::string& words) { text += words + "\n"; };
  line(result.later.session.title);
  line(counts_in_words(result));
  line(shift_in_words(result));
  line("");
  line("fuel that the compared cells lack or have too much, rms");
  line(fmt::format("  before the correction           {:6.2f} %", result.rms_pct(&fettle::pass_cell::before)));
  line(fmt::format("  predicted after it              {:6.2f} %", result.rms_pct(&fettle::pass_cell::predicted)));
  line(fmt::format("  shown by the new logs           {:6.2f} %", result.rms_pct(&fettle::pass_cell::shown)));
  const auto worse = result.worse_cells();
  if (worse.empty()) return text;
  line("");
  line("worse than predicted, the leanest first");
  line("   before   predicted    shown   standard error   cell, likely reason");
  for (const std::size_t k : worse) {
    const auto& cell = result.compared.cells[k];
    line(fmt::format("  {:+6.2f} %   {:+6.2f} %   {:+6.2f} %      {:5.2f} %      {}: {}", percent(cell.before),
                     percent(cell.predicted), percent(cell.shown), 100 * cell.standard_error,
                     session::cell_name(result.later.base, k), in_words(cell.reason)));
  }
  return text;
}

}  // namespace compare_passes

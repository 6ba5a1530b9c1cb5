// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/format.h>

#include <cmath>
#include <cstddef>
#include <string>

#include "common/report/verdict.hpp"
#include "common/session/cell_name.hpp"
#include "compare_passes/job.hpp"
#include "fettle/io/text.hpp"

namespace compare_passes {

/// A change of fuel in percent from its natural logarithm.
[[nodiscard]] inline double percent(double logarithm) {
  return 100 * std::expm1(logarithm);
}

[[nodiscard]] constexpr const char* in_words(fettle::worse_reason reason) noexcept {
  switch (reason) {
    case fettle::worse_reason::none:
      return "";
    case fettle::worse_reason::all_cells_moved:
      return "all cells moved alike: fuel, weather or the sensor changed";
    case fettle::worse_reason::lean_end:
      return "the earlier readings were at the sensor's lean end";
    case fettle::worse_reason::few_passes:
      return "the prediction rested on one or two visits";
    case fettle::worse_reason::contradiction:
      return "the earlier readings contradicted each other";
    default:
      return "no reason seen in the logs: check injectors, fuel pressure and sensor";
  }
}

/// How to read the counts of cells.
inline constexpr const char* coverage_in_words =
    "If the standard errors are right, about 95 % of the cells are as predicted";

/// The shift that is common to all cells.
[[nodiscard]] inline std::string shift_in_words(const step& result) {
  return fmt::format("all cells together needed {:+.2f} % (standard error {:.2f} %) beyond the prediction",
                     100 * result.compared.common_shift, 100 * result.compared.common_shift_error);
}

/// What to load, whether it is safe, what to do next.
[[nodiscard]] inline report::verdict verdict_of(const step& result) {
  report::verdict verdict{.load = fmt::format("nothing: this compares {} with the map before it.",
                                              fettle::path_text(result.later.session.map_path.lexically_normal())),
                          .safe = {},
                          .next = {}};
  const auto lean = result.lean_cells();
  verdict.is_safe = lean.empty();
  if (lean.empty()) {
    verdict.safe = fmt::format("as far as the new logs tell: no driven cell is surely more than 2 % lean on {}.",
                               fettle::path_text(result.later.session.map_path.filename()));
  } else {
    const std::size_t worst = lean.front();
    verdict.safe = fmt::format("NO. {} driven cell{} more than 2 % lean; the worst, {}, needs {:.0f} % more fuel.",
                               lean.size(), lean.size() == 1 ? " is" : "s are",
                               session::cell_name(result.later.base, worst), result.later.needs_pct(worst));
  }
  const std::size_t worse = result.compared.count(fettle::pass_verdict::worse);
  verdict.next = worse * 10 > result.compared.compared()
                     ? "find out why cells are worse than predicted (listed below) before correcting again."
                     : "run correct_map on the last session.";
  return verdict;
}

}  // namespace compare_passes

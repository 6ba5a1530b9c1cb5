// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <vector>

#include "fettle/lambda.hpp"
#include "passes_trial.hpp"

namespace passes_table {

namespace detail {

/// The factors on the first map after each pass, decided on evidence whose estimate is the truth.
///
/// @param needed    factor of each cell on the first map.
/// @param evidence  of a pass, by its number; its estimate is replaced.
template <class Evidence>
[[nodiscard]] std::vector<std::vector<double>> decide_on_truth(const std::vector<double>& needed, std::size_t passes,
                                                               const fettle::decision_limits& limits,
                                                               const Evidence& evidence) {
  std::vector<double> factor(needed.size(), 1.0);
  std::vector<std::vector<double>> result;
  for (std::size_t p = 0; p < passes; ++p) {
    std::vector<fettle::cell_evidence> cells = evidence(p);
    for (std::size_t k = 0; k < cells.size(); ++k) cells[k].correction = needed[k] / factor[k];
    const auto applied = fettle::decide(cells, limits).applied;
    for (std::size_t k = 0; k < factor.size(); ++k) factor[k] *= applied[k];
    result.push_back(factor);
  }
  return result;
}

}  // namespace detail

/// What the limits of one pass alone leave: every cell, driven or not, is known exactly before the first pass.
[[nodiscard]] inline std::vector<std::vector<double>> known_exactly(const std::vector<double>& needed,
                                                                    std::size_t passes) {
  const std::vector<fettle::cell_evidence> sure(needed.size(), {.standard_error = 1e-9, .seconds = 60, .passes = 1});
  return detail::decide_on_truth(needed, passes, {.margin_errors = 0}, [&](std::size_t) { return sure; });
}

/// What limits and caution leave: every estimate is the truth, but its stated error and all else that makes it doubtful
/// are those of the drives.
///
/// @param margin_errors  how many standard errors short of the estimate leaning stops.
[[nodiscard]] inline std::vector<std::vector<double>> estimated_exactly(const std::vector<double>& needed,
                                                                        const std::vector<pass>& driven,
                                                                        std::size_t passes, double margin_errors) {
  return detail::decide_on_truth(needed, passes, {.margin_errors = margin_errors},
                                 [&](std::size_t p) { return driven[p].evidence; });
}

}  // namespace passes_table

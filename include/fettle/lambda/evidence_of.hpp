// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <vector>

#include "fettle/error.hpp"
#include "fettle/lambda/cell_evidence.hpp"
#include "fettle/lambda/cylinders.hpp"
#include "fettle/lambda/identify.hpp"

namespace fettle {

/// How well a cell can be known before and after its first visit.
struct pass_errors {
  double one_pass =
      0.03;             ///< what readings of one visit have in common, as film, delay and misfit of the grid leave it:
                        ///< standard deviation of the logarithm; no source, common practice
  double cells = 0.10;  ///< how far a cell's need may well be from the common level: standard deviation of the same
};

namespace detail {

// An error that counts visits, then the estimate met by what was likely before: cells spread about their common level.
inline void count_passes(std::vector<cell_evidence>& cells, const pass_errors& errors) {
  const double spread = errors.cells * errors.cells;
  double sum = 0, weight = 0;
  for (auto& one : cells) {
    if (!(one.passes > 0)) continue;
    one.standard_error = (std::max)(one.standard_error, errors.one_pass / std::sqrt(one.passes));
    const double precision = 1 / (spread + one.standard_error * one.standard_error);
    sum += precision * std::log(one.correction);
    weight += precision;
  }
  const double level = weight > 0 ? sum / weight : 0;
  for (auto& one : cells) {
    if (!(one.passes > 0)) continue;
    const double kept = spread / (spread + one.standard_error * one.standard_error);
    one.correction = std::exp(level + kept * (std::log(one.correction) - level));
    one.standard_error *= std::sqrt(kept);
  }
}

}  // namespace detail

/// What a decision needs to know of each cell of the map.
///
/// Readings of one visit share their errors, so that a cell seen in two throttle lifts is not known, however many rows
/// the log has of them: the error has a floor that falls with the root of the visits, and the estimate is met by the
/// common level of all cells as far as that error leaves room.
/// Errors: `fettle::error` when a spread is not above 0.
[[nodiscard]] inline std::vector<cell_evidence> evidence_of(const identification& found,
                                                            const pass_errors& errors = {}) {
  if (!(errors.one_pass >= 0 && errors.cells > 0))
    throw error("evidence_of: the error of one pass must be at least 0 and the spread of cells above 0");
  std::vector<cell_evidence> result(found.correction.size());
  for (std::size_t k = 0; k < result.size(); ++k)
    result[k] = {.correction = found.correction[k],
                 .standard_error = found.standard_error[k],
                 .common_error = found.common_error,
                 .seconds = found.seconds[k],
                 .passes = found.passes[k],
                 .lean_end_share = found.lean_end_share[k],
                 .agreement = std::clamp(found.agreement[k], 0.0, 1.0)};
  detail::count_passes(result, errors);
  return result;
}

/// The same of each cell of one cylinder's trim. Its prior is in the estimate already.
///
/// @param cylinder  counted from 0.
[[nodiscard]] inline std::vector<cell_evidence> evidence_of(const cylinder_trims& found, std::size_t cylinder) {
  std::vector<cell_evidence> result(found.correction[cylinder].size());
  for (std::size_t k = 0; k < result.size(); ++k)
    result[k] = {.correction = found.correction[cylinder][k],
                 .standard_error = found.standard_error[cylinder][k],
                 .seconds = found.seconds[k],
                 .passes = found.passes[cylinder][k],
                 .lean_end_share = found.lean_end_share[cylinder][k],
                 .agreement = std::clamp(found.agreement[cylinder][k], 0.0, 1.0)};
  return result;
}

}  // namespace fettle

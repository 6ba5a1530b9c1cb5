// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cstddef>
#include <vector>

#include "fettle/lambda/cell_evidence.hpp"
#include "fettle/lambda/cylinder_trims.hpp"
#include "fettle/lambda/exhaust_flow.hpp"
#include "fettle/lambda/identification.hpp"

namespace fettle {

/// What a decision needs to know of each cell of the map.
[[nodiscard]] inline std::vector<cell_evidence> evidence_of(const identification& found) {
  std::vector<cell_evidence> result(found.correction.size());
  for (std::size_t k = 0; k < result.size(); ++k)
    result[k] = {.correction = found.correction[k],
                 .standard_error = found.standard_error[k],
                 .common_error = found.common_error,
                 .seconds = found.seconds[k],
                 .passes = found.passes[k],
                 .lean_end_share = found.lean_end_share[k],
                 .agreement = std::clamp(found.agreement[k], 0.0, 1.0),
                 .false_lean = false_lean(found.exhaust_flow_share[k])};
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

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
[[nodiscard]] inline std::vector<cell_evidence> evidence_of(const identification& identified) {
  std::vector<cell_evidence> result(identified.correction.size());
  for (std::size_t k = 0; k < result.size(); ++k)
    result[k] = {.correction = identified.correction[k],
                 .standard_error = identified.standard_error[k],
                 .common_error = identified.common_error,
                 .seconds = identified.seconds[k],
                 .passes = identified.passes[k],
                 .lean_end_share = identified.lean_end_share[k],
                 .agreement = std::clamp(identified.agreement[k], 0.0, 1.0),
                 .false_lean = false_lean(identified.exhaust_flow_share[k])};
  return result;
}

/// The same of each cell of one cylinder's trim. Its prior is in the estimate already.
///
/// @param cylinder  counted from 0.
[[nodiscard]] inline std::vector<cell_evidence> evidence_of(const cylinder_trims& trims, std::size_t cylinder) {
  std::vector<cell_evidence> result(trims.correction[cylinder].size());
  for (std::size_t k = 0; k < result.size(); ++k)
    result[k] = {.correction = trims.correction[cylinder][k],
                 .standard_error = trims.standard_error[cylinder][k],
                 .seconds = trims.seconds[k],
                 .passes = trims.passes[cylinder][k],
                 .lean_end_share = trims.lean_end_share[cylinder][k],
                 .agreement = std::clamp(trims.agreement[cylinder][k], 0.0, 1.0)};
  return result;
}

}  // namespace fettle

// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include "fettle/fit/evidence.hpp"
#include "fettle/fit/fit_rows.hpp"
#include "fettle/fit/map_model.hpp"

namespace fettle::detail {

/// The penalised normal equations of some terms and what rows say of them.
[[nodiscard]] inline penalised_system system_of(const std::vector<map_term>& terms, const evidence& seen) {
  return {map_model(terms), seen};
}

}  // namespace fettle::detail

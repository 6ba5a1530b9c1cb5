// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/format.h>

#include <cstddef>
#include <string>
#include <vector>

#include "correct_map/outcome.hpp"
#include "fettle/lambda.hpp"
#include "fettle/map/cell_coordinates.hpp"

namespace correct_map::detail {

/// The cell of a leg that stays leanest with the corrected map loaded. Cells never visited count by what their
/// neighbours say.
[[nodiscard]] inline std::size_t leanest_cell(const outcome& result, const fettle::drive_leg& leg) {
  std::size_t leanest = result.base.table.size();
  for (std::size_t k = 0; k < result.base.table.size(); ++k) {
    const auto at = fettle::cell_coordinates(result.base.table.axes(), k);
    bool on_leg = true;
    for (std::size_t a = 0; a < at.size(); ++a) on_leg = on_leg && at[a] >= leg.from[a] && at[a] <= leg.to[a];
    if (on_leg && (leanest == result.base.table.size() || result.left_pct(k) > result.left_pct(leanest))) leanest = k;
  }
  return leanest;
}

/// A leg of the plan as its driver reads it: "rpm 3000 to 4500, throttle_pct 20".
[[nodiscard]] inline std::string where_to_drive(const fettle::drive_leg& leg,
                                                const std::vector<std::string>& axis_names) {
  std::string words;
  for (std::size_t a = 0; a < axis_names.size(); ++a) {
    words += fmt::format("{}{} {:g}", a == 0 ? "" : ", ", axis_names[a], leg.from[a]);
    if (leg.to[a] != leg.from[a]) words += fmt::format(" to {:g}", leg.to[a]);
  }
  return words;
}

}  // namespace correct_map::detail

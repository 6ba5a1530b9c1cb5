// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/format.h>

#include <string>
#include <vector>

#include "fettle/lambda/identification.hpp"

namespace session {

/// What to say of a search that had not come to rest; nothing where that is small beside the errors of the cells.
[[nodiscard]] inline std::vector<std::string> judge_search(const fettle::identification& identified) {
  constexpr double small = 0.1, large = 0.5;  // of a cell's error
  if (identified.settled || identified.last_move < small) return {};
  return {fmt::format("the last of {} rounds of the search still moved a cell by {:.0f} % of its error{}",
                      identified.rounds, 100 * identified.last_move,
                      identified.last_move > large ? ": treat this result as a first pass" : "")};
}

}  // namespace session

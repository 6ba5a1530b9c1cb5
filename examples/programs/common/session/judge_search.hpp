// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/format.h>

#include <string>
#include <vector>

#include "fettle/lambda/identification.hpp"

namespace session {

/// What to say of a search that had not come to rest; nothing if it had.
[[nodiscard]] inline std::vector<std::string> judge_search(const fettle::identification& identified) {
  if (identified.settled) return {};
  return {fmt::format("the last of {} rounds of the search still moved a cell by {:.0f} % of its error{}",
                      identified.rounds, 100 * identified.last_move,
                      identified.last_move > 0.5 ? ": treat this result as a first pass" : "")};
}

}  // namespace session

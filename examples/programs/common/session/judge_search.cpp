// SPDX-License-Identifier: MIT
#include "common/session/judge_search.hpp"

#include <fmt/format.h>

namespace session {

std::vector<std::string> judge_search(const fettle::identification& identified) {
  constexpr double small = 0.1, large = 0.5;  // of a cell's error
  if (identified.settled || identified.last_move < small) return {};
  return {fmt::format("the last of {} rounds of the search still moved a cell by {:.0f} % of its error{}",
                      identified.rounds, 100 * identified.last_move,
                      identified.last_move > large ? ": treat this result as a first pass" : "")};
}

}  // namespace session

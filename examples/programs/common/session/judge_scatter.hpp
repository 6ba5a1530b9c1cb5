// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include "common/session/session.hpp"
#include "fettle/lambda/identification.hpp"

namespace session {

/// What is said of readings that scatter more than sound ones do.
struct scatter_verdict {
  std::vector<std::string> objections;  ///< why the result must not be loaded
  std::vector<std::string> remarks;
};

/// Judges how far the readings lie from what map, film and path explain: all together, and of several sensors each for
/// itself, since a bad one hides among good ones.
[[nodiscard]] scatter_verdict judge_scatter(const session& session, const fettle::identification& identified);

}  // namespace session

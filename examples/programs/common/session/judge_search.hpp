// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include "fettle/lambda/identification.hpp"

namespace session {

/// What to say of a search that had not come to rest; nothing where that is small beside the errors of the cells.
[[nodiscard]] std::vector<std::string> judge_search(const fettle::identification& identified);

}  // namespace session

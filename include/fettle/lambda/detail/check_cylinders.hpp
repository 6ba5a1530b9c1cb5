// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cstddef>
#include <string>
#include <vector>

#include "fettle/error.hpp"

namespace fettle::detail {

/// Refuses cylinders that do not exist, or that are named twice.
///
/// @param who        begins the message, as "rotation: sensor pipe 1".
/// @param seen       the cylinders whose exhaust passes a sensor, 1 ..; empty: that of all.
/// @param cylinders  of the engine.
inline void check_cylinders(const std::string& who, const std::vector<std::size_t>& seen, std::size_t cylinders) {
  for (auto at = seen.begin(); at != seen.end(); ++at) {
    if (*at < 1 || *at > cylinders)
      throw error(who + " sees cylinder " + std::to_string(*at) + " of an engine with " + std::to_string(cylinders) +
                  "; give 1 to " + std::to_string(cylinders) + ", or none for the exhaust of all");
    if (std::find(seen.begin(), at, *at) != at)
      throw error(who + " sees cylinder " + std::to_string(*at) + " twice; name each once");
  }
}

}  // namespace fettle::detail

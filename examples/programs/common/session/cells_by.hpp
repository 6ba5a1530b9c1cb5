// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cstddef>
#include <vector>

namespace session {

/// The cells that qualify, in falling order of a key; equals in the order of the map.
///
/// @param count  of all cells.
/// @param keep   whether a cell qualifies.
/// @param key    what a cell is sorted by.
template <class Keep, class Key>
[[nodiscard]] std::vector<std::size_t> cells_by(std::size_t count, Keep keep, Key key) {
  std::vector<std::size_t> cells;
  for (std::size_t k = 0; k < count; ++k)
    if (keep(k)) cells.push_back(k);
  std::stable_sort(cells.begin(), cells.end(), [&](std::size_t a, std::size_t b) { return key(a) > key(b); });
  return cells;
}

}  // namespace session

// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "common/session/cell_name.hpp"
#include "common/session/session.hpp"
#include "common/session/trim_maps.hpp"
#include "fettle/error.hpp"
#include "fettle/io/map_csv.hpp"
#include "fettle/io/map_file.hpp"
#include "fettle/io/text.hpp"

namespace session {

/// The maps that one log is read with, beside the one under correction.
struct log_maps {
  std::optional<fettle::map_file> loaded{}, target{};
  std::optional<fettle::map_file> share{};  ///< of the second bank in the fuel, as it is now
  trim_maps trims{}, loaded_trims{};        ///< under correction, and of the controller during the log

  /// Names of all their axes.
  [[nodiscard]] std::vector<std::string> axes() const {
    std::vector<std::string> result;
    for (const auto* map : {&loaded, &target, &share})
      if (*map) result.insert(result.end(), (*map)->axis_names.begin(), (*map)->axis_names.end());
    for (const auto* maps : {&trims, &loaded_trims})
      for (const auto& map : *maps) result.insert(result.end(), map.axis_names.begin(), map.axis_names.end());
    return result;
  }
};

/// Reads the maps that the session names for one log.
///
/// Errors: as `read_map_csv`; `fettle::error` naming the cell of the share map that holds no share.
[[nodiscard]] log_maps read_log_maps(const session& setup);

}  // namespace session

// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "common/session/session.hpp"
#include "common/session/trim_maps.hpp"
#include "fettle/io/map_csv.hpp"
#include "fettle/io/map_file.hpp"

namespace session {

/// The maps that one log is read with, beside the one under correction.
struct log_maps {
  std::optional<fettle::map_file> loaded{}, target{};
  trim_maps trims{}, loaded_trims{};  ///< under correction, and of the controller during the log

  /// Names of all their axes.
  [[nodiscard]] std::vector<std::string> axes() const {
    std::vector<std::string> result;
    for (const auto* map : {&loaded, &target})
      if (*map) result.insert(result.end(), (*map)->axis_names.begin(), (*map)->axis_names.end());
    for (const auto* maps : {&trims, &loaded_trims})
      for (const auto& map : *maps) result.insert(result.end(), map.axis_names.begin(), map.axis_names.end());
    return result;
  }
};

/// Reads the maps that the session names for one log.
///
/// Errors: as `read_map_csv`.
[[nodiscard]] inline log_maps read_log_maps(const session& setup) {
  log_maps result;
  if (!setup.loaded_map_path.empty()) result.loaded = fettle::read_map_csv(setup.loaded_map_path);
  if (!setup.target.map_path.empty()) result.target = fettle::read_map_csv(setup.target.map_path);
  result.trims = read_trims(setup.trims.map_paths);
  result.loaded_trims = read_trims(setup.loaded_trim_paths);
  return result;
}

}  // namespace session

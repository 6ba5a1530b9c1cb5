// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/format.h>

#include <cstddef>
#include <filesystem>
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

namespace detail {

[[nodiscard]] inline fettle::map_file read_shares(const std::filesystem::path& path) {
  fettle::map_file shares = fettle::read_map_csv(path);
  for (std::size_t k = 0; k < shares.table.size(); ++k)
    if (!(shares.table.values()[k] >= 0 && shares.table.values()[k] <= 1))
      throw fettle::error(
          fmt::format("{}: cell {} holds {}, expected a share from 0 to 1: how much of the fuel the second "
                      "bank gives",
                      fettle::path_text(path), cell_name(shares, k), shares.table.values()[k]));
  return shares;
}

}  // namespace detail

/// Reads the maps that the session names for one log.
///
/// Errors: as `read_map_csv`; `fettle::error` naming the cell of the share map that holds no share.
[[nodiscard]] inline log_maps read_log_maps(const session& setup) {
  log_maps result;
  if (!setup.loaded_map_path.empty()) result.loaded = fettle::read_map_csv(setup.loaded_map_path);
  if (!setup.target.map_path.empty()) result.target = fettle::read_map_csv(setup.target.map_path);
  if (setup.banks.size() == 2 && !setup.share_map_path.empty())
    result.share = detail::read_shares(setup.share_map_path);
  result.trims = read_trims(setup.trims.map_paths);
  result.loaded_trims = read_trims(setup.loaded_trim_paths);
  return result;
}

}  // namespace session

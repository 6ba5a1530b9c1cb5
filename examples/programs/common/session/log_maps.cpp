// SPDX-License-Identifier: MIT
#include "common/session/log_maps.hpp"

#include <fmt/format.h>

#include <cstddef>
#include <filesystem>

namespace session {
namespace {

[[nodiscard]] fettle::map_file read_shares(const std::filesystem::path& path) {
  fettle::map_file shares = fettle::read_map_csv(path);
  for (std::size_t k = 0; k < shares.table.size(); ++k)
    if (!(shares.table.values()[k] >= 0 && shares.table.values()[k] <= 1))
      throw fettle::error(
          fmt::format("{}: cell {} holds {}, expected a share from 0 to 1: how much of the fuel the second "
                      "bank gives",
                      fettle::path_text(path), cell_name(shares, k), shares.table.values()[k]));
  return shares;
}

}  // namespace

log_maps read_log_maps(const session& setup) {
  log_maps result;
  if (!setup.loaded_map_path.empty()) result.loaded = fettle::read_map_csv(setup.loaded_map_path);
  if (!setup.target.map_path.empty()) result.target = fettle::read_map_csv(setup.target.map_path);
  if (setup.banks.size() == 2 && !setup.share_map_path.empty()) result.share = read_shares(setup.share_map_path);
  result.trims = read_trims(setup.trims.map_paths);
  result.loaded_trims = read_trims(setup.loaded_trim_paths);
  return result;
}

}  // namespace session

// SPDX-License-Identifier: MIT
#pragma once

#include <filesystem>
#include <nlohmann/json_fwd.hpp>
#include <string>
#include <vector>

#include "common/session/session.hpp"

namespace session {

/// The name of a file as a session in a folder has it; both may be relative to the working directory, with `..` or
/// without.
///
/// Errors: `fettle::error` for a name that JSON cannot hold, or that `json_value` would refuse to read.
[[nodiscard]] std::string path_seen_from(const std::filesystem::path& file, const std::filesystem::path& folder);

/// The content of a session file that was read already, its files named as seen from another folder.
[[nodiscard]] nlohmann::ordered_json session_seen_from(const session& read, const std::filesystem::path& folder);

/// Makes sure, before the work, that a session file in another folder can name all files of this one.
///
/// Errors: as `path_seen_from`.
void require_nameable(const session& read, const std::filesystem::path& folder);

/// The session after a new map: logs keep the maps that they were driven on, the map to correct is the new one.
///
/// @param folder   where the new session file will stand.
/// @param new_map  name of the corrected map in that folder.
[[nodiscard]] nlohmann::ordered_json session_with_map(const session& read, const std::filesystem::path& folder,
                                                      const std::string& new_map);

/// The session after a new plan for the second bank: its share map is the new one.
///
/// Logs, the map and the films stay as they are: what each bank injected stands in the logs' pulses, and the films of the
/// session are a prior of what the same logs say of them.
///
/// @param folder     where the new session file will stand.
/// @param new_share  name of the share map in that folder.
[[nodiscard]] nlohmann::ordered_json session_with_share(const session& read, const std::filesystem::path& folder,
                                                        const std::string& new_share);

/// The session after new trims: logs keep the trims that they were driven on, the trims to correct are the new ones.
///
/// @param folder     where the new session file will stand.
/// @param new_trims  names of the trims in that folder, one per cylinder.
[[nodiscard]] nlohmann::ordered_json session_with_trims(const session& read, const std::filesystem::path& folder,
                                                        const std::vector<std::string>& new_trims);

}  // namespace session

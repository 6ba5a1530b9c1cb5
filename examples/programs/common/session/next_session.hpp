// SPDX-License-Identifier: MIT
#pragma once

#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "common/session/session.hpp"
#include "fettle/error.hpp"
#include "fettle/io/text.hpp"

namespace session {

/// The name of a file as a session in a folder has it; both may be relative to the working directory, with `..` or
/// without.
///
/// Errors: `fettle::error` for a name that JSON cannot hold, or that `json_value` would refuse to read.
[[nodiscard]] inline std::string path_seen_from(const std::filesystem::path& file,
                                                const std::filesystem::path& folder) {
  const std::u8string name =
      std::filesystem::proximate(std::filesystem::absolute(file), std::filesystem::absolute(folder)).generic_u8string();
  std::string text(name.begin(), name.end());
  if (!fettle::is_printable(text))
    throw fettle::error(fettle::path_text(file) + ": seen from " + fettle::path_text(folder) + " its name is " +
                        fettle::printable(text) +
                        ", and a question mark there is a byte that a session file cannot hold; rename that file or "
                        "folder in plain UTF-8");
  return text;
}

namespace detail {

// Renames every "file" for a reader in another folder.
inline void rename_files(nlohmann::ordered_json& part, const std::filesystem::path& from,
                         const std::filesystem::path& to) {
  for (auto& [key, value] : part.items()) {
    if (key == "file" && value.is_string())
      value = path_seen_from(from / fettle::path_named(value.get<std::string>()), to);
    else if (value.is_structured())
      rename_files(value, from, to);
  }
}

}  // namespace detail

/// The content of a session file that was read already, its files named as seen from another folder.
[[nodiscard]] inline nlohmann::ordered_json session_seen_from(const session& read,
                                                              const std::filesystem::path& folder) {
  std::ifstream file(read.path);
  auto content = nlohmann::ordered_json::parse(file);
  detail::rename_files(content, read.path.parent_path(), folder);
  return content;
}

/// Makes sure, before the work, that a session file in another folder can name all files of this one.
///
/// Errors: as `path_seen_from`.
inline void require_nameable(const session& read, const std::filesystem::path& folder) {
  (void)session_seen_from(read, folder);
}

/// The session after a new map: logs keep the maps that they were driven on, the map to correct is the new one.
///
/// @param folder   where the new session file will stand.
/// @param new_map  name of the corrected map in that folder.
[[nodiscard]] inline nlohmann::ordered_json session_with_map(const session& read, const std::filesystem::path& folder,
                                                             const std::string& new_map) {
  auto next = session_seen_from(read, folder);
  for (auto& log : next["logs"])
    if (!log.contains("map") || !log["map"].contains("file")) log["map"]["file"] = next["map"]["file"];
  next["map"]["file"] = new_map;
  return next;
}

/// The session after a new plan for the second bank: its share map is the new one.
///
/// Logs, the map and the films stay as they are: what each bank injected stands in the logs' pulses, and the films of the
/// session are a prior of what the same logs say of them.
///
/// @param folder     where the new session file will stand.
/// @param new_share  name of the share map in that folder.
[[nodiscard]] inline nlohmann::ordered_json session_with_share(const session& read, const std::filesystem::path& folder,
                                                               const std::string& new_share) {
  auto next = session_seen_from(read, folder);
  next["share_map"] = {{"file", new_share}};
  return next;
}

/// The session after new trims: logs keep the trims that they were driven on, the trims to correct are the new ones.
///
/// @param folder     where the new session file will stand.
/// @param new_trims  names of the trims in that folder, one per cylinder.
[[nodiscard]] inline nlohmann::ordered_json session_with_trims(const session& read, const std::filesystem::path& folder,
                                                               const std::vector<std::string>& new_trims) {
  auto next = session_seen_from(read, folder);
  auto& trims = next["cylinders"]["trim_maps"];
  if (trims.is_null()) trims = nlohmann::ordered_json::array();
  for (auto& log : next["logs"])
    if (!log.contains("trim_maps")) log["trim_maps"] = trims;
  trims = nlohmann::ordered_json::array();
  for (const auto& name : new_trims) trims.push_back({{"file", name}});
  return next;
}

}  // namespace session

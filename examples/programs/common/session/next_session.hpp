// SPDX-License-Identifier: MIT
#pragma once

#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <string>

#include "common/session/session.hpp"

namespace session {
namespace detail {

// Renames every "file" for a reader in another folder.
inline void rename_files(nlohmann::ordered_json& part, const std::filesystem::path& from,
                         const std::filesystem::path& to) {
  for (auto& [key, value] : part.items()) {
    if (key == "file" && value.is_string())
      value =
          std::filesystem::proximate(std::filesystem::absolute(from / value.get<std::string>()), to).generic_string();
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
  detail::rename_files(content, read.path.parent_path(), std::filesystem::absolute(folder));
  return content;
}

/// The session of the next pass: logs keep the maps that they were driven on, the map to correct is the new one.
///
/// @param folder   where the new session file will stand.
/// @param new_map  name of the corrected map in that folder.
[[nodiscard]] inline nlohmann::ordered_json next_session(const session& read, const std::filesystem::path& folder,
                                                         const std::string& new_map) {
  auto next = session_seen_from(read, folder);
  for (auto& log : next["logs"])
    if (!log.contains("map") || !log["map"].contains("file")) log["map"]["file"] = next["map"]["file"];
  next["map"]["file"] = new_map;
  return next;
}

}  // namespace session

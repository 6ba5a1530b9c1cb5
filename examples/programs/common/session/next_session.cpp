// SPDX-License-Identifier: MIT
#include "common/session/next_session.hpp"

#include <fstream>
#include <nlohmann/json.hpp>
#include <system_error>

#include "fettle/error.hpp"
#include "fettle/io/text.hpp"

namespace session {

std::string path_seen_from(const std::filesystem::path& file, const std::filesystem::path& folder) {
  std::error_code failure;
  const std::u8string name =
      std::filesystem::proximate(std::filesystem::absolute(file), std::filesystem::absolute(folder), failure)
          .generic_u8string();
  if (failure) throw fettle::error(fettle::path_text(file) + ": no file can have this name: " + failure.message());
  std::string text(name.begin(), name.end());
  if (!fettle::is_printable(text))
    throw fettle::error(fettle::path_text(file) + ": seen from " + fettle::path_text(folder) + " its name is " +
                        fettle::printable(text) +
                        ", and a question mark there is a byte that a session file cannot hold; rename that file or "
                        "folder in plain UTF-8");
  return text;
}

namespace {

// Renames every "file" for a reader in another folder.
void rename_files(nlohmann::ordered_json& part, const std::filesystem::path& from, const std::filesystem::path& to) {
  for (auto& [key, value] : part.items()) {
    if (key == "file" && value.is_string())
      value = path_seen_from(from / fettle::path_named(value.get<std::string>()), to);
    else if (value.is_structured())
      rename_files(value, from, to);
  }
}

}  // namespace

nlohmann::ordered_json session_seen_from(const session& read, const std::filesystem::path& folder) {
  std::ifstream file(read.path);
  auto content = nlohmann::ordered_json::parse(file);
  rename_files(content, read.path.parent_path(), folder);
  return content;
}

void require_nameable(const session& read, const std::filesystem::path& folder) {
  (void)session_seen_from(read, folder);
}

nlohmann::ordered_json session_with_map(const session& read, const std::filesystem::path& folder,
                                        const std::string& new_map) {
  auto next = session_seen_from(read, folder);
  for (auto& log : next["logs"])
    if (!log.contains("map") || !log["map"].contains("file")) log["map"]["file"] = next["map"]["file"];
  next["map"]["file"] = new_map;
  return next;
}

nlohmann::ordered_json session_with_share(const session& read, const std::filesystem::path& folder,
                                          const std::string& new_share) {
  auto next = session_seen_from(read, folder);
  next["share_map"] = {{"file", new_share}};
  return next;
}

nlohmann::ordered_json session_with_trims(const session& read, const std::filesystem::path& folder,
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

// SPDX-License-Identifier: MIT
#pragma once

#include <exception>
#include <map>
#include <nlohmann/json.hpp>
#include <string>

#include "fettle/error.hpp"

namespace laboratory {

/// Pictures by name: question in, answer out.
using picture_table = std::map<std::string, nlohmann::json (*)(const nlohmann::json&)>;

/// The answer of one of these pictures; whatever fails, an object with the one member `error`, a sentence.
[[nodiscard]] inline std::string answer_of(const picture_table& pictures, const std::string& picture,
                                           const std::string& question) {
  try {
    const auto chosen = pictures.find(picture);
    if (chosen == pictures.end()) throw fettle::error("there is no picture \"" + picture + "\"");
    return chosen->second(nlohmann::json::parse(question)).dump();
  } catch (const std::exception& failed) {
    return nlohmann::json{{"error", failed.what()}}.dump();
  }
}

}  // namespace laboratory

// SPDX-License-Identifier: MIT
#pragma once

#include <initializer_list>
#include <string>
#include <utility>

#include "common/session/json_reader.hpp"

namespace session {

/// The value that a word stands for.
///
/// Errors: `fettle::error` that lists the words.
template <class Value>
[[nodiscard]] Value one_of(const json_value& from, std::initializer_list<std::pair<const char*, Value>> words) {
  const std::string text = from.text();
  std::string list;
  for (const auto& [word, value] : words) {
    if (text == word) return value;
    list += (list.empty() ? "" : ", ") + std::string(word);
  }
  from.refuse("is \"" + text + "\", expected one of " + list);
}

}  // namespace session

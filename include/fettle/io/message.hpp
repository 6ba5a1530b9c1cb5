// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>
#include <string>
#include <string_view>
#include <type_traits>

namespace fettle::detail {

/// The parts of a message, text and whole numbers, one behind the other.
template <class... Part>
[[nodiscard]] std::string message(const Part&... parts) {
  std::string text;
  const auto append = [&text](const auto& part) {
    if constexpr (std::integral<std::decay_t<decltype(part)>>)
      text.append(std::to_string(part));
    else
      text.append(std::string_view(part));
  };
  (append(parts), ...);
  return text;
}

/// Text that may hold anything a file can, as a terminal may show it: every control character becomes a question mark.
[[nodiscard]] inline std::string printable(std::string text) {
  for (char& c : text)
    if (static_cast<unsigned char>(c) < 0x20 || c == 0x7F) c = '?';
  return text;
}

}  // namespace fettle::detail

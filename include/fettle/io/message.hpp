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

}  // namespace fettle::detail

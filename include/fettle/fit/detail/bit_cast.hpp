// SPDX-License-Identifier: MIT
#pragma once

#include <cstring>
#include <type_traits>

namespace fettle::detail {

/// The bytes of one value as another of the same size: std::bit_cast, which some C++20 libraries still lack.
template <class To, class From>
requires(sizeof(To) == sizeof(From) && std::is_trivially_copyable_v<To> && std::is_trivially_copyable_v<From>)
    [[nodiscard]] inline To bit_cast(const From& from) noexcept {
  To result;
  std::memcpy(&result, &from, sizeof result);
  return result;
}

}  // namespace fettle::detail

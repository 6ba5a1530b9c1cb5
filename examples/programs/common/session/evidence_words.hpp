// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/core.h>

#include <string>
#include <string_view>

namespace session {

/// Why a cell or trim is held, or its wish followed only in part.
///
/// @param limits  of a correction or of trims: what `correct` and `equalise` go by.
/// @param or_else what else holds one.
template <class Limits>
[[nodiscard]] std::string evidence_in_words(const Limits& limits, std::string_view or_else) {
  return fmt::format(
      "Held: below {:g} readings, above {:g} % standard error, or {}. Between {:g} and {:g} % only a part of what a "
      "cell asks for is applied.",
      limits.fewest_readings, 100 * limits.largest_error, or_else, 50 * limits.largest_error,
      100 * limits.largest_error);
}

}  // namespace session

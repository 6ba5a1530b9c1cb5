// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <string_view>

namespace report {

/// The text as HTML shows it, safe in an element and in a quoted attribute.
[[nodiscard]] std::string escaped(std::string_view text);

enum class sign { minus_only, always };

/// A number with fixed decimals; what rounds to zero is `0.0`, without a sign.
[[nodiscard]] std::string number(double value, int decimals, sign shown = sign::minus_only);

/// A number as an axis shows it: up to six digits, no trailing zeros.
[[nodiscard]] std::string short_number(double value);

}  // namespace report

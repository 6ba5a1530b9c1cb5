// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/format.h>

#include <string>
#include <string_view>

namespace report {

/// The text as HTML shows it, safe in an element and in a quoted attribute.
[[nodiscard]] inline std::string escaped(std::string_view text) {
  std::string html;
  html.reserve(text.size());
  for (const char c : text) switch (c) {
      case '&':
        html += "&amp;";
        break;
      case '<':
        html += "&lt;";
        break;
      case '>':
        html += "&gt;";
        break;
      case '"':
        html += "&quot;";
        break;
      case '\'':
        html += "&#39;";
        break;
      default:
        html += c;
    }
  return html;
}

enum class sign { minus_only, always };

/// A number with fixed decimals; what rounds to zero is `0.0`, without a sign.
[[nodiscard]] inline std::string number(double value, int decimals, sign shown = sign::minus_only) {
  const std::string plain = fmt::format("{:.{}f}", value, decimals);
  const bool zero = plain.find_first_not_of("-0.") == std::string::npos;
  if (zero) return fmt::format("{:.{}f}", 0.0, decimals);
  return shown == sign::always && value > 0 ? "+" + plain : plain;
}

/// A number as an axis shows it: up to six digits, no trailing zeros.
[[nodiscard]] inline std::string short_number(double value) {
  return fmt::format("{:.6g}", value);
}

}  // namespace report

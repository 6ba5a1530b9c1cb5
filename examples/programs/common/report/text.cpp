// SPDX-License-Identifier: MIT
#include "common/report/text.hpp"

#include <fmt/format.h>

namespace report {

std::string escaped(std::string_view text) {
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

std::string number(double value, int decimals, sign shown) {
  const std::string plain = fmt::format("{:.{}f}", value, decimals);
  const bool zero = plain.find_first_not_of("-0.") == std::string::npos;
  if (zero) return fmt::format("{:.{}f}", 0.0, decimals);
  return shown == sign::always && value > 0 ? "+" + plain : plain;
}

std::string short_number(double value) {
  return fmt::format("{:.6g}", value);
}

}  // namespace report

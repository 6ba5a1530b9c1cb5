// SPDX-License-Identifier: MIT
#pragma once

#include <fast_float/fast_float.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <optional>
#include <string>
#include <string_view>
#include <system_error>

#include "fettle/io/message.hpp"

namespace fettle::detail {

[[nodiscard]] inline std::string_view without_blanks(std::string_view text) noexcept {
  const auto first = text.find_first_not_of(" \t");
  if (first == std::string_view::npos) return {};
  return text.substr(first, text.find_last_not_of(" \t") - first + 1);
}

/// A finite decimal number at the beginning of a text, and where it ends; null where there is none.
struct parsed_number {
  double value = 0;
  const char* stop = nullptr;
};

/// Is a number that was read as zero written so, and not too small for a double?
[[nodiscard]] inline bool is_written_as_zero(const char* first, const char* last) noexcept {
  const auto digit_counts = [](char c) { return c >= '1' && c <= '9'; };
  return std::none_of(first, std::find_if(first, last, [](char c) { return c == 'e' || c == 'E'; }), digit_counts);
}

/// Reads a decimal number, correctly rounded, whatever the locale; no plus sign, blanks or words for infinity and NaN.
///
/// By fast_float, because libc++ before 20 cannot read floating-point numbers by std::from_chars.
[[nodiscard]] inline parsed_number parse_number(const char* first, const char* last) noexcept {
  double value = 0;
  const auto [stop, status] = fast_float::from_chars(first, last, value);
  if (status != std::errc{} || !std::isfinite(value) || (value == 0 && !is_written_as_zero(first, stop))) return {};
  return {value, stop};
}

/// Is a whole text a decimal number that no double can hold?
[[nodiscard]] inline bool is_too_large_or_small(std::string_view text) noexcept {
  const char *const first = text.data(), *const last = first + text.size();
  double value = 0;
  const auto [stop, status] = fast_float::from_chars(first, last, value);
  if (stop != last || status == std::errc::invalid_argument) return false;
  const char lead = *first == '-' ? first[1] : *first;
  return lead <= '9' && parse_number(first, last).stop == nullptr;  // above: infinity or NaN in words
}

/// The finite number that a whole cell spells, with a decimal point; nothing for any other text.
[[nodiscard]] inline std::optional<double> number_in(std::string_view text) noexcept {
  text = without_blanks(text);
  if (text.size() > 1 && text[0] == '+' && text[1] != '-') text.remove_prefix(1);
  const char* const last = text.data() + text.size();
  const parsed_number number = parse_number(text.data(), last);
  return number.stop == last && !text.empty() ? std::optional(number.value) : std::nullopt;
}

/// What a cell should have contained instead of this text, which is no number.
[[nodiscard]] inline std::string number_wanted_instead_of(std::string_view text) {
  text = without_blanks(text);
  std::string pointed(text);
  if (const auto comma = pointed.find(','); comma != std::string::npos) {
    pointed[comma] = '.';
    if (number_in(pointed)) return message("a decimal point: ", pointed);
  }
  return is_too_large_or_small(text) ? "a number between 1e-307 and 1e308 in size" : "a number";
}

#if defined(_LIBCPP_VERSION) && _LIBCPP_VERSION < 14000
/// The same text where the library cannot write floating-point numbers by std::to_chars: the fewest digits that read
/// back, found by trying; it takes several times as long. The C locale is expected.
[[nodiscard]] inline char* write_shortest(char* first, double value) noexcept {
  std::array<char, 32> text{};
  int digits = 0;
  do {
    std::snprintf(text.data(), text.size(), "%.*e", digits, value);
  } while (digits++ < 17 && std::strtod(text.data(), nullptr) != value);
  const std::string_view scientific = text.data();
  const int exponent = std::atoi(text.data() + scientific.find('e') + 1), decimals = digits - 1 - exponent;
  std::array<char, 400> fixed{};
  std::snprintf(fixed.data(), fixed.size(), "%.*f", decimals > 0 ? decimals : 0, value);
  const double size = std::fabs(value);
  const bool everyday = size == 0 || (size >= 1e-6 && size < 1e15);
  const std::string_view plain = fixed.data(),
                         chosen = everyday || plain.size() <= scientific.size() ? plain : scientific;
  return std::copy(chosen.begin(), chosen.end(), first);
}
#else
/// The shortest text that reads back as exactly this finite number; without an exponent for everyday sizes.
///
/// @param first  room for 32 characters.
/// @return       behind the last character written.
[[nodiscard]] inline char* write_shortest(char* first, double value) noexcept {
  const double size = std::fabs(value);
  if (size == 0 || (size >= 1e-6 && size < 1e15))
    return std::to_chars(first, first + 32, value, std::chars_format::fixed).ptr;
  return std::to_chars(first, first + 32, value).ptr;
}
#endif

/// The number rounded to 0 to 9 decimals, without trailing zeros: small files, written several times faster.
///
/// @param first  room for 32 characters.
/// @return       behind the last character written.
[[nodiscard]] inline char* write_rounded(char* first, double value, int decimals) noexcept {
  static constexpr std::array<double, 10> powers{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9};
  const double scaled = std::nearbyint(value * powers[static_cast<std::size_t>(decimals)]);
  if (!(std::fabs(scaled) < 1e15)) return write_shortest(first, value);  // such a number has no decimals to spare
  auto digits = static_cast<std::uint64_t>(std::fabs(scaled));
  while (decimals > 0 && digits % 10 == 0) {
    digits /= 10;
    --decimals;
  }
  if (scaled < 0) *first++ = '-';
  if (decimals == 0) return std::to_chars(first, first + 24, digits).ptr;
  const auto unit = static_cast<std::uint64_t>(powers[static_cast<std::size_t>(decimals)]);
  first = std::to_chars(first, first + 24, digits / unit).ptr;
  *first = '.';
  std::uint64_t rest = digits % unit;
  for (int i = decimals; i > 0; --i, rest /= 10) first[i] = static_cast<char>('0' + rest % 10);
  return first + 1 + decimals;
}

}  // namespace fettle::detail

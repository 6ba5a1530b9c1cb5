// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <filesystem>
#include <string>
#include <string_view>

namespace fettle {

namespace detail {

/// One character of UTF-8, and how many bytes it takes; 0: these bytes are none.
struct character {
  char32_t code = 0;
  std::size_t size = 0;
};

/// The character that a text begins with.
/// Source: The Unicode Standard, version 15.0, table 3-7, "Well-Formed UTF-8 Byte Sequences".
[[nodiscard]] inline character first_character(std::string_view text) noexcept {
  const auto byte = [&](std::size_t i) { return static_cast<unsigned char>(text[i]); };
  if (text.empty()) return {};
  if (byte(0) < 0x80) return {byte(0), 1};
  const std::size_t size = byte(0) < 0xC2 ? 0 : byte(0) < 0xE0 ? 2 : byte(0) < 0xF0 ? 3 : byte(0) < 0xF5 ? 4 : 0;
  if (size == 0 || size > text.size()) return {};
  char32_t code = byte(0) & (0x7FU >> size);
  for (std::size_t i = 1; i < size; ++i) {
    if ((byte(i) & 0xC0U) != 0x80U) return {};
    code = code << 6U | (byte(i) & 0x3FU);
  }
  const bool is_too_long = (size == 3 && code < 0x800) || (size == 4 && code < 0x10000);
  const bool is_surrogate = code >= 0xD800 && code < 0xE000;
  return is_too_long || is_surrogate || code > 0x10FFFF ? character{} : character{code, size};
}

/// Control characters, line ends, and the marks that turn the direction of writing: what shows otherwise than it is.
[[nodiscard]] constexpr bool is_hidden(char32_t code) noexcept {
  return code < 0x20 || (code >= 0x7F && code < 0xA0) || code == 0x061C || code == 0x200E || code == 0x200F ||
         (code >= 0x2028 && code <= 0x202E) || (code >= 0x2066 && code <= 0x2069);
}

[[nodiscard]] inline bool is_utf_8(std::string_view text) noexcept {
  while (!text.empty()) {
    const std::size_t size = first_character(text).size;
    if (size == 0) return false;
    text.remove_prefix(size);
  }
  return true;
}

[[nodiscard]] inline std::string utf_8_from_latin_1(std::string_view text) {
  std::string result;
  for (const char c : text) {
    const auto byte = static_cast<unsigned char>(c);
    if (byte < 0x80) {
      result += c;
    } else {
      result += static_cast<char>(0xC0U | (byte >> 6U));
      result += static_cast<char>(0x80U | (byte & 0x3FU));
    }
  }
  return result;
}

}  // namespace detail

/// Text that may hold anything a file can, as a terminal or a page may show it: UTF-8, with a question mark for every
/// control character, line end, mark of writing direction, and byte that is not UTF-8.
[[nodiscard]] inline std::string printable(std::string_view text) {
  std::string result;
  while (!text.empty()) {
    const auto [code, size] = detail::first_character(text);
    if (size == 0 || detail::is_hidden(code))
      result += '?';
    else
      result += text.substr(0, size);
    text.remove_prefix(size == 0 ? 1 : size);
  }
  return result;
}

/// Whether a text can be shown as it is.
[[nodiscard]] inline bool is_printable(std::string_view text) {
  return printable(text) == text;
}

/// The number of characters in a text; a byte that is not UTF-8 counts as one.
[[nodiscard]] inline std::size_t character_count(std::string_view text) noexcept {
  std::size_t count = 0;
  for (; !text.empty(); ++count) {
    const std::size_t size = detail::first_character(text).size;
    text.remove_prefix(size == 0 ? 1 : size);
  }
  return count;
}

/// The name of a file for a terminal, a message or a page; a name that is not UTF-8 shows question marks.
[[nodiscard]] inline std::string path_text(const std::filesystem::path& path) {
  const std::u8string text = path.u8string();  // on POSIX the bytes of the name as they are
  return printable(std::string(text.begin(), text.end()));
}

/// The file that a text in UTF-8 names, on every system.
[[nodiscard]] inline std::filesystem::path path_named(std::string_view text) {
  return std::u8string(text.begin(), text.end());
}

}  // namespace fettle

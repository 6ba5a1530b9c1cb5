// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cctype>
#include <cmath>
#include <cstddef>
#include <initializer_list>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "fettle/io/log_preview.hpp"
#include "fettle/io/text.hpp"

namespace start_session {

/// What can be seen of one column of a log: the words and the unit of its name, and its values.
struct column_look {
  std::string name;                  ///< as in the file
  std::vector<std::string> words{};  ///< of the name, in small letters, without the unit
  std::string unit{};                ///< in small letters; empty: none is given
  int number = 0;                    ///< in the name, such as that of a cylinder; 0: none
  std::size_t samples = 0;
  double lowest = 0, median = 0, high = 0, highest = 0;  ///< high: the 95 % point
  double median_step = 0;                                ///< between samples that differ

  [[nodiscard]] bool has(std::string_view word) const {
    return std::find(words.begin(), words.end(), word) != words.end();
  }
  [[nodiscard]] bool has_any(std::initializer_list<std::string_view> any) const {
    return std::any_of(any.begin(), any.end(), [this](std::string_view word) { return has(word); });
  }
};

namespace detail {

inline const std::vector<std::string> units{"s",    "ms", "us",  "rpm",    "krpm", "1/min",    "min-1", "1/s",
                                            "hz",   "%",  "pct", "deg",    "degc", "c",        "degf",  "f",
                                            "degk", "k",  "kpa", "pa",     "hpa",  "mbar",     "bar",   "psi",
                                            "v",    "mv", "afr", "lambda", "mg",   "mg/cycle", "km/h",  "m/s"};

[[nodiscard]] inline std::string small(std::string_view text) {
  std::string result;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const auto c = static_cast<unsigned char>(text[i]);
    if (c == 0xC2 && i + 1 < text.size() && static_cast<unsigned char>(text[i + 1]) == 0xB0) {  // degree sign
      result += "deg";
      ++i;
    } else {
      result += static_cast<char>(std::tolower(c));
    }
  }
  return result;
}

[[nodiscard]] inline bool is_unit(const std::string& text) {
  return std::find(units.begin(), units.end(), text) != units.end();
}

/// Splits a name into words at everything that is no letter or digit, and where small letters meet a capital.
[[nodiscard]] inline std::vector<std::string> words_of(std::string_view name) {
  std::vector<std::string> result;
  std::string word;
  const auto end_word = [&] {
    if (!word.empty()) result.push_back(small(word));
    word.clear();
  };
  for (std::size_t i = 0; i < name.size(); ++i) {
    const auto c = static_cast<unsigned char>(name[i]);
    const bool is_letter = std::isalpha(c) != 0, is_digit = std::isdigit(c) != 0;
    if (!word.empty()) {
      const auto before = static_cast<unsigned char>(word.back());
      if (std::islower(before) != 0 && std::isupper(c) != 0) end_word();
      if ((std::isalpha(before) != 0 && is_digit) || (std::isdigit(before) != 0 && is_letter)) end_word();
    }
    if (is_letter || is_digit)
      word += static_cast<char>(c);
    else
      end_word();
  }
  end_word();
  return result;
}

/// The unit in brackets, or behind the last underscore or blank.
[[nodiscard]] inline std::string unit_in(std::string_view& name) {
  const auto open = name.find_first_of("[(");
  if (open != std::string_view::npos) {
    const auto close = name.find_first_of("])", open);
    const std::string unit = small(name.substr(open + 1, close == std::string_view::npos ? close : close - open - 1));
    name = name.substr(0, open);
    return unit;
  }
  const auto last = name.find_last_of("_ ");
  if (last == std::string_view::npos) return {};
  const std::string unit = small(name.substr(last + 1));
  if (!is_unit(unit)) return {};
  name = name.substr(0, last);
  return unit;
}

inline void look_at_values(const std::vector<double>& column, column_look& destination) {
  std::vector<double> values;
  for (const double value : column)
    if (!std::isnan(value)) values.push_back(value);
  destination.samples = values.size();
  if (values.empty()) return;
  std::vector<double> steps;
  for (std::size_t i = 1; i < values.size(); ++i)
    if (values[i] != values[i - 1]) steps.push_back(std::abs(values[i] - values[i - 1]));
  std::sort(steps.begin(), steps.end());
  if (!steps.empty()) destination.median_step = steps[steps.size() / 2];
  std::sort(values.begin(), values.end());
  const auto at = [&](double share) {
    return values[static_cast<std::size_t>(share * static_cast<double>(values.size() - 1))];
  };
  destination.lowest = values.front();
  destination.median = at(0.5);
  destination.high = at(0.95);
  destination.highest = values.back();
}

}  // namespace detail

/// Looks at every column of a log's beginning.
[[nodiscard]] inline std::vector<column_look> look_at_columns(const fettle::log_preview& log) {
  std::vector<column_look> result;
  for (std::size_t i = 0; i < log.names.size(); ++i) {
    column_look look{.name = log.names[i]};
    std::string_view rest = look.name;
    look.unit = detail::unit_in(rest);
    if (!log.units[i].empty()) look.unit = detail::small(log.units[i]);
    look.words = detail::words_of(rest);
    for (const auto& word : look.words)
      if (word.size() <= 2 && std::isdigit(static_cast<unsigned char>(word[0])) != 0) look.number = std::stoi(word);
    if (fettle::is_printable(look.name)) detail::look_at_values(log.columns[i], look);  // else no session can name it
    result.push_back(std::move(look));
  }
  return result;
}

}  // namespace start_session

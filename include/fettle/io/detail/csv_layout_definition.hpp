// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cstddef>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "fettle/compiled.hpp"
#include "fettle/io/csv_layout.hpp"
#include "fettle/io/csv_number.hpp"

namespace fettle {

namespace detail {

/// Is this how a logger writes that there is no value?
[[nodiscard]] inline bool means_not_sampled(std::string_view cell) noexcept {
  if (cell == "-" || cell == "--") return true;
  if (cell.size() != 3) return false;
  const auto lower = [](char c) { return static_cast<char>(c | 0x20); };
  return (lower(cell[0]) == 'n' && lower(cell[1]) == 'a' && lower(cell[2]) == 'n') ||
         (lower(cell[0]) == 'n' && cell[1] == '/' && lower(cell[2]) == 'a');
}

/// What one record of a file's head looks like under one separator.
struct record_look {
  std::size_t line = 0;  ///< where it begins, from 1
  std::size_t width = 0, numbers = 0, texts = 0;
  std::size_t points = 0, commas = 0;  ///< numbers with a decimal point, with a decimal comma
  bool last_is_empty = false, is_remark = false;

  /// Could this be a row? Empty cells say nothing.
  [[nodiscard]] bool is_row() const noexcept { return !is_remark && numbers >= texts && (numbers > 0 || texts == 0); }
  /// Could this be a header or a line of units?
  [[nodiscard]] bool is_names() const noexcept { return !is_remark && has_only_words(); }
  [[nodiscard]] bool has_only_words() const noexcept { return numbers == 0 && texts > 0; }
};

inline void look_at_cell(std::string_view cell, char separator, record_look& destination) {
  ++destination.width;
  cell = without_blanks(cell);
  if (cell.size() >= 2 && cell.front() == '"' && cell.back() == '"') cell = cell.substr(1, cell.size() - 2);
  destination.last_is_empty = cell.empty();
  if (cell.empty() || means_not_sampled(cell)) return;
  if (number_in(cell)) {
    ++destination.numbers;
    if (cell.find('.') != std::string_view::npos) ++destination.points;
    return;
  }
  const auto comma = separator == ',' ? std::string_view::npos : cell.find(',');
  if (comma != std::string_view::npos) {
    std::string pointed(cell);
    pointed[comma] = '.';
    if (number_in(pointed)) {
      ++destination.numbers;
      ++destination.commas;
      return;
    }
  }
  ++destination.texts;
}

/// The records of a head, blank lines left out; the last one only when the head holds its end.
[[nodiscard]] inline std::vector<record_look> look_at(std::string_view head, char separator) {
  constexpr std::size_t most = 200;
  std::vector<record_look> result;
  std::size_t line = 1, cell = 0;
  record_look record{.line = 1};
  bool quoted = false, may_open = true;  // a quote opens at the start of a cell, and again when doubled
  for (std::size_t i = 0; i < head.size() && result.size() < most; ++i) {
    const char c = head[i];
    if (c == '"' && (quoted || may_open)) {
      quoted = !quoted;
      may_open = true;
    } else if (!quoted) {
      may_open = c == separator || c == '\n';
    }
    if (c == '\n') ++line;
    if (quoted || (c != separator && c != '\n')) continue;
    std::string_view text = head.substr(cell, i - cell);
    if (!text.empty() && text.back() == '\r') text.remove_suffix(1);
    if (record.width == 0) record.is_remark = text.starts_with('#') || text.starts_with('%') || text.starts_with("//");
    look_at_cell(text, separator, record);
    cell = i + 1;
    if (c == separator) continue;
    if (record.width > 1 || record.numbers + record.texts > 0) result.push_back(record);
    record = {.line = line};
  }
  return result;
}

/// Does this row fit under this header?
[[nodiscard]] constexpr bool fits(const record_look& row, const record_look& header) noexcept {
  return row.width == header.width || (row.width == header.width + 1 && row.last_is_empty && !header.last_is_empty);
}

/// A header and how many records of the head are rows under it.
struct header_candidate {
  std::size_t header = 0, first_row = 0, rows = 0, width = 0;
};

/// The header that has most cells under it.
[[nodiscard]] inline header_candidate best_header(const std::vector<record_look>& records) {
  header_candidate best;
  for (std::size_t first = 1; first < records.size(); ++first) {
    if (!records[first].is_row() || !records[first - 1].has_only_words()) continue;
    if (!fits(records[first], records[first - 1])) continue;
    std::size_t header = first - 1;  // above lines of units, two at most
    while (header > 0 && first - header < 3 && records[header - 1].is_names() &&
           records[header - 1].width == records[first - 1].width)
      --header;
    std::size_t rows = 0;
    for (std::size_t i = first; i < records.size(); ++i)
      rows += fits(records[i], records[header]) && records[i].is_row();
    const std::size_t width = records[header].width;
    if (width > 1 && rows * width > best.rows * best.width) best = {header, first, rows, width};
  }
  return best;
}

/// Is every record of the head a row under the first, or a line of units?
[[nodiscard]] inline bool begins_with_header(const std::vector<record_look>& records) {
  return records.size() > 1 && records[0].width > 1 &&
         std::all_of(records.begin() + 1, records.end(), [&](const auto& record) { return fits(record, records[0]); });
}

[[nodiscard]] inline char plain_separator(std::string_view header) noexcept {
  bool quoted = false;
  for (const char c : header) {
    if (c == '"') quoted = !quoted;
    if (c == ';' && !quoted) return ';';
  }
  return ',';
}

}  // namespace detail

FETTLE_INLINE csv_layout find_csv_layout(std::string_view head) {
  const std::string_view line = head.substr(0, head.find('\n'));
  csv_layout layout{.separator = detail::plain_separator(line)};
  auto records = detail::look_at(head, layout.separator);
  detail::header_candidate best = detail::best_header(records);
  if (!detail::begins_with_header(records)) {
    for (const char other : {'\t', ';', ','}) {
      if (other == layout.separator && best.rows > 0) continue;
      auto others = detail::look_at(head, other);
      const auto candidate = detail::best_header(others);
      if (candidate.rows * candidate.width <= best.rows * best.width) continue;
      best = candidate;
      records = std::move(others);
      layout.separator = other;
    }
  } else if (best.header > 0) {
    best = {};
  }
  if (best.rows == 0) return layout;
  const auto& header = records[best.header];
  layout.first_line = header.line;
  layout.is_remark = header.is_remark;
  layout.unit_lines = best.first_row - best.header - 1;
  std::size_t points = 0, commas = 0, plain_rows = 0;
  for (std::size_t i = best.first_row; i < records.size(); ++i) {
    if (!detail::fits(records[i], header)) continue;
    points += records[i].points;
    commas += records[i].commas;
    plain_rows += records[i].width == header.width;
  }
  layout.rows_end_in_separator = plain_rows == 0;
  if (commas > 0 && points == 0) layout.decimal = ',';
  return layout;
}

}  // namespace fettle

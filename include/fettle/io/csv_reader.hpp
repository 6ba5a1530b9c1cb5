// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <string>
#include <string_view>
#include <system_error>
#include <utility>
#include <vector>

#include "fettle/error.hpp"
#include "fettle/io/csv_layout.hpp"
#include "fettle/io/csv_number.hpp"
#include "fettle/io/message.hpp"
#include "fettle/io/text.hpp"

namespace fettle::detail {

/// Where in a CSV file something stands, counted from 1; column 0 means the whole line.
struct csv_place {
  std::size_t line = 0;
  std::size_t column = 0;
  std::string_view column_name = {};
};

/// Text from a file as a message may show it: in quotes, not longer than a line.
[[nodiscard]] inline std::string shown(std::string_view text) {
  return message("\"", text.substr(0, 40), text.size() > 40 ? "...\"" : "\"");
}

template <class... Part>
[[noreturn]] void refuse_reading(const std::filesystem::path& file, csv_place at, const Part&... complaint) {
  std::string where = path_text(file);
  if (at.line > 0) where += message(", line ", at.line);
  if (at.column > 0) where += message(", column ", at.column);
  if (!at.column_name.empty()) where += message(" (", at.column_name, ")");
  throw error(printable(message(where, ": ", complaint...)));
}

/// Which layouts a reader of a table accepts.
enum class csv_forms : std::uint8_t {
  plain,  ///< RFC 4180 with commas, semicolons or tabs, its header in the first line
  any,    ///< also what `find_csv_layout` finds
};

/// What separates the cells under a header whose names may be breakpoints: tabs where every comma is a decimal one.
[[nodiscard]] inline char map_separator(std::string_view header) noexcept {
  const auto is_digit = [&](std::size_t i) { return i < header.size() && header[i] >= '0' && header[i] <= '9'; };
  bool quoted = false, has_tabs = false, has_separating_commas = false;
  for (std::size_t i = 0; i < header.size(); ++i) {
    if (header[i] == '"') quoted = !quoted;
    if (quoted) continue;
    if (header[i] == ';') return ';';
    has_tabs = has_tabs || header[i] == '\t';
    has_separating_commas =
        has_separating_commas || (header[i] == ',' && !(i > 0 && is_digit(i - 1) && is_digit(i + 1)));
  }
  return has_tabs && !has_separating_commas ? '\t' : ',';
}

/// The name in the first cell of a header that is marked as a remark.
[[nodiscard]] inline std::string without_remark_sign(std::string name) {
  const auto first = name.find_first_not_of("#%/ \t");
  return first == std::string::npos ? name : name.substr(first);
}

/// Goes through a CSV file record by record, in constant memory: 64 KiB, more only while a record is longer.
///
/// Shape:  a header record, then records; cells separated by commas, or by semicolons or tabs when the header has one
///         outside quotes; quoted cells may hold separators, doubled quotes and line ends. A byte-order mark, CRLF, a missing
///         last line end and blank lines at the very end are accepted.
/// Errors: `fettle::error` for a file that is missing, empty or not UTF-8 text, a record longer than 1 MiB, a blank
///         line between records, a quote that never closes.
/// Source: Y. Shafranovich, "Common Format and MIME Type for CSV Files", RFC 4180 (2005), section 2; semicolons, the
///         byte-order mark and bare LF go beyond it.
class csv_reader {
 public:
  explicit csv_reader(std::filesystem::path file, csv_forms forms = csv_forms::plain) : file_(std::move(file)) {
    open();
    if (forms == csv_forms::any) {
      const bool is_whole = bytes_in_all_ > 0 && bytes_read_ == bytes_in_all_;
      if (is_whole) buffer_[size_] = '\n';  // the spare place
      layout_ = find_csv_layout({buffer_.data() + at_, size_ - at_ + (is_whole ? 1 : 0)});
      separator_ = layout_.separator;
      skip_lines(layout_.first_line - 1);
    }
    if (!next()) refuse({}, "the file is empty, expected a header line");
    if (forms == csv_forms::plain) layout_.separator = separator_ = map_separator(record_);
    header_ = cells();
    if (forms == csv_forms::plain) return;
    if (layout_.is_remark) header_[0] = without_remark_sign(std::move(header_[0]));
    for (auto& name : header_) as_utf_8(name);
    skip_units();
  }

  [[nodiscard]] const std::filesystem::path& file() const noexcept { return file_; }
  [[nodiscard]] const std::vector<std::string>& header() const noexcept { return header_; }
  [[nodiscard]] char separator() const noexcept { return separator_; }
  [[nodiscard]] const csv_layout& layout() const noexcept { return layout_; }
  [[nodiscard]] const std::vector<std::string>& units() const noexcept { return units_; }  ///< under the header, if any
  /// Does the record in hand end with the file, without a line end?
  [[nodiscard]] bool record_is_open() const noexcept { return record_is_open_; }
  /// Is the record in hand the header once more, as in logs that were joined? Then its units are skipped too.
  [[nodiscard]] bool repeats_header() {
    auto names = cells();
    if (layout_.is_remark) names[0] = without_remark_sign(std::move(names[0]));
    for (auto& name : names) name = layout_.is_latin_1 ? utf_8_from_latin_1(name) : std::move(name);
    if (names != header_) return false;
    skip_units();
    return true;
  }

  /// Steps to the next record; false behind the last one.
  [[nodiscard]] bool next() {
    std::size_t blank_line = 0;
    while (next_record()) {
      if (!record_.empty()) {
        if (blank_line > 0) refuse({.line = blank_line}, "the line is blank, expected the next row or the end");
        return true;
      }
      if (blank_line == 0) blank_line = line_;
    }
    return false;
  }

  /// The record in hand, valid until the next step; its line end is cut off.
  [[nodiscard]] std::string_view record() const noexcept { return record_; }
  [[nodiscard]] std::size_t line() const noexcept { return line_; }  ///< where the record begins

  /// All cells of the record in hand, without quotes, unquoted ones without surrounding blanks.
  [[nodiscard]] std::vector<std::string> cells() const {
    std::vector<std::string> result;
    const char *const last = record_.data() + record_.size(), *at = record_.data();
    for (;; ++at) {
      auto [text, stop] = cell(at, result.size() + 1);
      result.push_back(std::move(text));
      if (stop == last) return result;
      at = stop;
    }
  }

  /// The text of the cell that begins at `first` in the record in hand, and where the cell stops.
  [[nodiscard]] std::pair<std::string, const char*> cell(const char* first, std::size_t column) const {
    const char* const last = record_.data() + record_.size();
    if (first == last || *first != '"') {
      const char* const stop = std::find(first, last, separator_);
      return {std::string(without_blanks({first, static_cast<std::size_t>(stop - first)})), stop};
    }
    std::string text;
    for (const char* at = first + 1; at != last; ++at) {
      if (*at != '"') {
        text += *at;
      } else if (at + 1 != last && at[1] == '"') {
        text += *at++;
      } else if (at + 1 == last || at[1] == separator_) {
        return {std::move(text), at + 1};
      } else {
        refuse({line_, column, name_of(column)}, "found text behind the closing quote of ", shown(text),
               ", expected a separator; a quote inside is written twice");
      }
    }
    refuse({line_, column, name_of(column)}, "found no closing quote for ", shown(text), ", expected one");
  }

  /// The header's name for a column counted from 1; empty beyond it.
  [[nodiscard]] std::string_view name_of(std::size_t column) const noexcept {
    return column >= 1 && column <= header_.size() ? std::string_view(header_[column - 1]) : std::string_view{};
  }

  [[nodiscard]] std::uintmax_t bytes_done() const noexcept { return bytes_read_ - (size_ - at_); }
  [[nodiscard]] std::uintmax_t bytes_in_all() const noexcept { return bytes_in_all_; }  ///< 0: unknown (a pipe)

  template <class... Part>
  [[noreturn]] void refuse(csv_place at, const Part&... complaint) const {
    refuse_reading(file_, at, complaint...);
  }

 private:
  static constexpr std::size_t longest_record = std::size_t{1} << 20U;

  void open() {
    namespace fs = std::filesystem;
    std::error_code failure;
    if (!fs::exists(file_, failure)) refuse({}, "there is no such file");
    if (fs::is_directory(file_, failure)) refuse({}, "it is a folder, expected a CSV file");
    in_.open(file_, std::ios::binary);
    if (!in_) refuse({}, "the file cannot be opened for reading");
    if (const auto size = fs::file_size(file_, failure); !failure) bytes_in_all_ = size;
    buffer_.resize((std::size_t{1} << 16U) + 1);  // one spare, so that a place behind the record exists
    refill();
    const std::string_view head(buffer_.data(), size_);
    if (head.starts_with("\xFF\xFE") || head.starts_with("\xFE\xFF"))
      refuse({.line = 1}, "the text is UTF-16, expected UTF-8; save it as CSV UTF-8");
    if (head.starts_with("\xEF\xBB\xBF")) at_ = 3;
  }

  void skip_lines(std::size_t count) {
    for (; line_ < count; ++line_) {
      const auto* end =
          static_cast<const char*>(std::memchr(buffer_.data() + at_, '\n', size_ - at_));  // found before: it is there
      at_ = static_cast<std::size_t>(end - buffer_.data()) + 1;
    }
  }

  void skip_units() {
    for (std::size_t i = 0; i < layout_.unit_lines && next(); ++i)
      if (i == 0) units_ = cells();
    for (auto& unit : units_)
      if (!is_utf_8(unit)) unit = utf_8_from_latin_1(unit);
  }

  void as_utf_8(std::string& name) {
    if (is_utf_8(name)) return;
    layout_.is_latin_1 = true;
    name = utf_8_from_latin_1(name);
  }

  [[nodiscard]] bool next_record() {
    const char* stop = nullptr;
    while ((stop = end_of_record()) == nullptr && !exhausted_) refill();
    const char *const first = buffer_.data() + at_, *const last = buffer_.data() + size_;
    if (first == last) return false;
    record_is_open_ = stop == nullptr;
    at_ = stop == nullptr ? size_ : at_ + static_cast<std::size_t>(stop - first) + 1;
    if (stop == nullptr) stop = last;
    line_ += lines_in_record_;
    lines_in_record_ = spans_lines_ ? 1 + static_cast<std::size_t>(std::count(first, stop, '\n')) : 1;
    if (stop != first && stop[-1] == '\r') --stop;
    record_ = {first, static_cast<std::size_t>(stop - first)};
    return true;
  }

  /// The line end that closes the record at `at_`, or null when the buffer does not hold it.
  [[nodiscard]] const char* end_of_record() noexcept {
    const char *const first = buffer_.data() + at_, *const last = buffer_.data() + size_;
    spans_lines_ = false;
    const auto* line_end = static_cast<const char*>(std::memchr(first, '\n', static_cast<std::size_t>(last - first)));
    const char* const line_stop = line_end == nullptr ? last : line_end;
    if (!has_quotes_ || std::memchr(first, '"', static_cast<std::size_t>(line_stop - first)) == nullptr)
      return line_end;
    bool quoted = false, may_open = true;  // a quote opens at the start of a cell, and again when doubled
    for (const char* at = first; at != last; ++at) {
      if (quoted) {
        spans_lines_ = spans_lines_ || *at == '\n';
        quoted = *at != '"';
        may_open = true;
      } else if (*at == '\n') {
        return at;
      } else if (*at == '"' && may_open) {
        quoted = true;
      } else {
        may_open = separator_ == '\0' ? *at == ',' || *at == ';' || *at == '\t' : *at == separator_;
      }
    }
    return nullptr;
  }

  void refill() {
    if (at_ == 0 && size_ == longest_record)
      refuse({.line = line_ + lines_in_record_}, "the line goes on for more than ", longest_record,
             " bytes, expected a line end; is a closing quote missing, or is this no CSV file?");
    if (at_ == 0 && size_ + 1 == buffer_.size()) buffer_.resize(2 * size_ + 1);
    std::memmove(buffer_.data(), buffer_.data() + at_, size_ - at_);
    size_ -= at_;
    at_ = 0;
    in_.read(buffer_.data() + size_, static_cast<std::streamsize>(buffer_.size() - 1 - size_));
    const auto count = static_cast<std::size_t>(in_.gcount());
    if (in_.bad()) refuse({}, "reading stopped after ", bytes_read_, " bytes: the device failed");
    exhausted_ = count == 0;
    size_ += count;
    bytes_read_ += count;
    has_quotes_ = std::memchr(buffer_.data(), '"', size_) != nullptr;
  }

  std::filesystem::path file_;
  std::ifstream in_;
  std::vector<char> buffer_;
  std::size_t at_ = 0, size_ = 0;  ///< of the buffer: next record, end of data
  std::uintmax_t bytes_read_ = 0, bytes_in_all_ = 0;
  bool exhausted_ = false;
  bool spans_lines_ = false, has_quotes_ = false, record_is_open_ = false;
  std::string_view record_;
  std::size_t line_ = 0, lines_in_record_ = 1;
  char separator_ = '\0';  ///< none yet while the header is read
  csv_layout layout_;
  std::vector<std::string> header_, units_;
};

/// A name as a CSV header cell, quoted when its own characters would mislead a reader.
[[nodiscard]] inline std::string header_cell(std::string_view name) {
  const bool is_like_a_byte_order_mark = !name.empty() && static_cast<unsigned char>(name[0]) >= 0xEF;
  const bool is_like_a_remark = name.starts_with('#') || name.starts_with('%') || name.starts_with("//");
  if (!is_like_a_byte_order_mark && !is_like_a_remark && name.find_first_of(",;\t\"\r\n") == std::string_view::npos &&
      without_blanks(name) == name)
    return std::string(name);
  std::string result = "\"";
  for (const char c : name) result += c == '"' ? std::string("\"\"") : std::string(1, c);
  return result + '"';
}

}  // namespace fettle::detail

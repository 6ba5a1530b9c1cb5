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
#include "fettle/io/csv_number.hpp"
#include "fettle/io/message.hpp"

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
  std::string where = file.string();
  if (at.line > 0) where += message(", line ", at.line);
  if (at.column > 0) where += message(", column ", at.column);
  if (!at.column_name.empty()) where += message(" (", at.column_name, ")");
  throw error(printable(message(where, ": ", complaint...)));
}

/// Goes through a CSV file record by record, in constant memory: 64 KiB, more only while a record is longer.
///
/// Shape:  a header record, then records; cells separated by commas, or by semicolons when the header has one outside
///         quotes; quoted cells may hold separators, doubled quotes and line ends. A byte-order mark, CRLF, a missing
///         last line end and blank lines at the very end are accepted.
/// Errors: `fettle::error` for a file that is missing, empty or not UTF-8 text, a record longer than 1 MiB, a blank
///         line between records, a quote that never closes.
/// Source: Y. Shafranovich, "Common Format and MIME Type for CSV Files", RFC 4180 (2005), section 2; semicolons, the
///         byte-order mark and bare LF go beyond it.
class csv_reader {
 public:
  explicit csv_reader(std::filesystem::path file) : file_(std::move(file)) {
    open();
    if (!next()) refuse({}, "the file is empty, expected a header line");
    separator_ = separator_of(record_);
    header_ = cells();
  }

  [[nodiscard]] const std::filesystem::path& file() const noexcept { return file_; }
  [[nodiscard]] const std::vector<std::string>& header() const noexcept { return header_; }
  [[nodiscard]] char separator() const noexcept { return separator_; }

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

  [[nodiscard]] static char separator_of(std::string_view header) noexcept {
    bool quoted = false;
    for (const char c : header) {
      if (c == '"') quoted = !quoted;
      if (c == ';' && !quoted) return ';';
    }
    return ',';
  }

  [[nodiscard]] bool next_record() {
    const char* stop = nullptr;
    while ((stop = end_of_record()) == nullptr && !exhausted_) refill();
    const char *const first = buffer_.data() + at_, *const last = buffer_.data() + size_;
    if (first == last) return false;
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
    if (std::memchr(first, '"', static_cast<std::size_t>(line_stop - first)) == nullptr) return line_end;
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
        may_open = separator_ == '\0' ? *at == ',' || *at == ';' : *at == separator_;
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
  }

  std::filesystem::path file_;
  std::ifstream in_;
  std::vector<char> buffer_;
  std::size_t at_ = 0, size_ = 0;  ///< of the buffer: next record, end of data
  std::uintmax_t bytes_read_ = 0, bytes_in_all_ = 0;
  bool exhausted_ = false;
  bool spans_lines_ = false;
  std::string_view record_;
  std::size_t line_ = 0, lines_in_record_ = 1;
  char separator_ = '\0';  ///< none yet while the header is read
  std::vector<std::string> header_;
};

/// A name as a CSV header cell, quoted when its own characters would mislead a reader.
[[nodiscard]] inline std::string header_cell(std::string_view name) {
  const bool is_like_a_byte_order_mark = !name.empty() && static_cast<unsigned char>(name[0]) >= 0xEF;
  if (!is_like_a_byte_order_mark && name.find_first_of(",;\"\r\n") == std::string_view::npos &&
      without_blanks(name) == name)
    return std::string(name);
  std::string result = "\"";
  for (const char c : name) result += c == '"' ? std::string("\"\"") : std::string(1, c);
  return result + '"';
}

}  // namespace fettle::detail

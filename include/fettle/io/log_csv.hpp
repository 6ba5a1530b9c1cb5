// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <filesystem>
#include <functional>
#include <limits>
#include <ostream>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "fettle/error.hpp"
#include "fettle/io/atomic_write.hpp"
#include "fettle/io/csv_number.hpp"
#include "fettle/io/csv_reader.hpp"
#include "fettle/io/log_table.hpp"
#include "fettle/io/message.hpp"

namespace fettle {

/// One channel wanted from a log file: our name, the file's own name, and how its numbers become ours.
struct log_channel {
  std::string name;       ///< ours, with its unit: `lambda_1`, `pulse_primary_ms`, `time_s`
  std::string file_name;  ///< in the file's header
  double factor = 1;      ///< value = number in the file * factor + offset
  double offset = 0;      ///< in our unit
  bool required = true;   ///< false: a file without it gives a log without it
};

/// Told now and then how much of a file has been read, from 0 to 1.
using read_progress = std::function<void(double)>;

namespace detail {

/// Reads the wanted columns of one log file; the others are only counted.
class log_csv_reading {
 public:
  log_csv_reading(const std::filesystem::path& path, std::span<const log_channel> wanted, const read_progress& progress)
      : reader_(path), wanted_(wanted), progress_(progress) {
    find_columns();
  }

  /// Calls use(values) for every row: one per wanted channel, NaN where a cell is empty or the file has no such column.
  template <class Use>
  void for_each_row(Use&& use) {
    std::vector<const file_column*> source;
    for (const auto& channel : wanted_) source.push_back(column_of(channel));
    std::vector<double> values(wanted_.size());
    while (reader_.next()) {
      read_row();
      for (std::size_t i = 0; i < wanted_.size(); ++i) {
        const double found = source[i] == nullptr ? nothing : source[i]->value;
        values[i] = is_scaled(wanted_[i]) ? found * wanted_[i].factor + wanted_[i].offset : found;
      }
      ++rows_;
      use(std::span<const double>(values));
      if (progress_ && reader_.bytes_in_all() > 0 && rows_ % rows_between_reports == 0)
        progress_((std::min)(1.0, share_read()));
    }
    if (rows_ == 0) reader_.refuse({.line = 2}, "found no row under the header, expected at least one");
    if (progress_) progress_(1);
  }

  [[nodiscard]] log_table table() {
    std::vector<std::vector<double>> columns(wanted_.size());
    for_each_row([&](std::span<const double> values) {
      if (rows_ == rows_between_reports)  // by now it is known how long a row is
        for (auto& column : columns)
          column.reserve(static_cast<std::size_t>(1.05 * static_cast<double>(rows_) / share_read()));
      for (std::size_t i = 0; i < values.size(); ++i) columns[i].push_back(values[i]);
    });
    log_table log;
    for (std::size_t i = 0; i < wanted_.size(); ++i) {
      if (column_of(wanted_[i]) == nullptr) continue;
      log.names.push_back(wanted_[i].name);
      log.columns.push_back(std::move(columns[i]));
    }
    return log;
  }

 private:
  struct file_column {
    std::size_t number = 0;  ///< from 0
    double value = 0;        ///< in the row in hand
  };
  static constexpr std::size_t rows_between_reports = 8192;
  static constexpr double nothing = std::numeric_limits<double>::quiet_NaN();

  [[nodiscard]] double share_read() const noexcept {
    return reader_.bytes_in_all() == 0
               ? 1.0
               : static_cast<double>(reader_.bytes_done()) / static_cast<double>(reader_.bytes_in_all());
  }

  [[nodiscard]] static bool is_scaled(const log_channel& channel) noexcept {
    return channel.factor != 1 || channel.offset != 0;  // times 1 plus 0 would turn -0 into 0
  }

  [[nodiscard]] file_column* column_of(const log_channel& channel) noexcept {
    for (auto& column : columns_)
      if (reader_.header()[column.number] == channel.file_name) return &column;
    return nullptr;
  }

  void find_columns() {
    const auto& header = reader_.header();
    std::string missing;
    for (auto channel = wanted_.begin(); channel != wanted_.end(); ++channel) {
      if (std::any_of(wanted_.begin(), channel, [&](const auto& other) { return other.name == channel->name; }))
        throw error(message("the channel ", shown(channel->name), " is asked for twice, expected different names"));
      if (channel->name == "time_s") time_channel_ = &*channel;
      if (column_of(*channel) != nullptr) continue;
      const auto found = std::find(header.begin(), header.end(), channel->file_name);
      if (found == header.end()) {
        if (channel->required) missing += message(missing.empty() ? "" : ", ", shown(channel->file_name));
        continue;
      }
      refuse_second(*channel, static_cast<std::size_t>(found - header.begin()));
      columns_.push_back({static_cast<std::size_t>(found - header.begin())});
    }
    if (!missing.empty()) refuse_missing(missing);
    std::sort(columns_.begin(), columns_.end(), [](const auto& a, const auto& b) { return a.number < b.number; });
    if (time_channel_ != nullptr) time_ = column_of(*time_channel_);
  }

  void refuse_second(const log_channel& channel, std::size_t first) const {
    for (std::size_t i = first + 1; i < reader_.header().size(); ++i)
      if (reader_.header()[i] == channel.file_name)
        reader_.refuse({.line = 1, .column = i + 1}, "found the name ", shown(channel.file_name),
                       " again, expected it once; it names column ", first + 1, " too");
  }

  [[noreturn]] void refuse_missing(const std::string& missing) const {
    std::string found;
    for (const auto& name : reader_.header()) found += message(found.empty() ? "" : ", ", shown(name));
    reader_.refuse({.line = 1}, "found no column ", missing, "; the columns are ", found);
  }

  void read_row() {
    const char* at = reader_.record().data();  // the cell in hand; behind `last` when there is none
    const char* const last = at + reader_.record().size();
    std::size_t number = 0;  // of the cell in hand
    for (auto& column : columns_) {
      for (; number < column.number && at <= last; ++number) at = behind_cell(at, last, number) + 1;
      if (at > last) refuse_width(number);
      column.value = read_number(at, last, number);
      ++at;
      ++number;
    }
    for (; at <= last; ++number) at = behind_cell(at, last, number) + 1;
    if (number != reader_.header().size()) refuse_width(number);
    if (time_ != nullptr) require_later_time();
  }

  [[nodiscard]] const char* behind_cell(const char* at, const char* last, std::size_t number) const {
    if (at != last && *at == '"') return reader_.cell(at, number + 1).second;
    while (at != last && *at != reader_.separator()) ++at;
    return at;
  }

  /// The number in a cell, NaN when the cell is empty; moves `at` behind the cell.
  [[nodiscard]] double read_number(const char*& at, const char* last, std::size_t number) const {
    const char separator = reader_.separator();
    if (at == last || *at == separator) return nothing;
    const parsed_number found = parse_number(at, last);
    if (found.fault == number_fault::none && (found.stop == last || *found.stop == separator)) {
      at = found.stop;
      return found.value;
    }
    const auto [text, behind] = reader_.cell(at, number + 1);  // blanks, quotes, a plus sign, or no number
    at = behind;
    if (text.empty()) return nothing;
    if (const auto number_inside = number_in(text)) return *number_inside;
    refuse_cell(number, "found ", shown(text), ", expected ", number_wanted_instead_of(text),
                " (an empty cell means not sampled)");
  }

  void require_later_time() {
    const double now = time_->value, before = std::exchange(time_before_, now);
    if (std::isnan(now)) refuse_cell(time_->number, "found no time stamp, expected one in every row");
    if (rows_ == 0 || (time_channel_->factor < 0 ? now < before : now > before)) return;
    char text[32];
    const std::string now_text(text, write_shortest(text, now));
    if (now == before)
      refuse_cell(time_->number, "found the time stamp ", now_text, " a second time, expected times that increase");
    const std::string before_text(text, write_shortest(text, before));
    refuse_cell(time_->number, "found the time stamp ", now_text, " after ", before_text,
                ", expected times that increase");
  }

  template <class... Part>
  [[noreturn]] void refuse_cell(std::size_t number, const Part&... complaint) const {
    reader_.refuse({.line = reader_.line(), .column = number + 1, .column_name = reader_.name_of(number + 1)},
                   complaint...);
  }

  [[noreturn]] void refuse_width(std::size_t count) const {
    reader_.refuse({.line = reader_.line()}, "found ", count, " cells, expected ", reader_.header().size(),
                   " as in the header");
  }

  csv_reader reader_;
  std::span<const log_channel> wanted_;
  const read_progress& progress_;
  std::vector<file_column> columns_;  ///< in the file's order
  const log_channel* time_channel_ = nullptr;
  const file_column* time_ = nullptr;
  double time_before_ = 0;
  std::size_t rows_ = 0;
};

}  // namespace detail

/// Reads the wanted channels of a log, in the order asked for; the file is never in memory as a whole.
///
/// Shape:  RFC 4180: a header of column names, one row per time; an empty cell is NaN (not sampled then). Columns not
///         asked for may hold anything. Semicolons, a byte-order mark and CRLF are accepted, a decimal comma is not.
/// Errors: `fettle::error` naming file, line, column, what was found and what is expected: text in a number, `nan` and
///         `inf` among it; a row with cells too few or too many; no row; a required column missing or there twice.
///         The channel called `time_s` must have a value in every row, each above the one before.
/// Cost:   linear in bytes; one double per row and channel.
[[nodiscard]] inline log_table read_log_csv(const std::filesystem::path& path, std::span<const log_channel> wanted,
                                            const read_progress& progress = {}) {
  return detail::log_csv_reading(path, wanted, progress).table();
}

/// Reads the wanted channels row by row, for logs larger than memory, or when sums of them are all that is needed.
///
/// @param use  called with a `std::span<const double>`, valid for that call: one value per wanted channel, NaN where
///             a cell is empty or the file has no such column.
/// Shape, Errors: as `read_log_csv`.
/// Cost:       linear in bytes; memory does not grow with the file.
template <class Use>
void for_each_log_row(const std::filesystem::path& path, std::span<const log_channel> wanted, Use&& use,
                      const read_progress& progress = {}) {
  detail::log_csv_reading(path, wanted, progress).for_each_row(std::forward<Use>(use));
}

/// Writes a log as `read_log_csv` reads it, NaN as an empty cell, atomically.
///
/// @param decimals  one per column, 0 to 9, for small files; none: every number is the shortest that reads back the
/// same. Errors: `fettle::error` naming the path and the reason; an infinite value and columns of unequal length are
/// refused.
inline void write_log_csv(const std::filesystem::path& path, const log_table& log, std::span<const int> decimals = {}) {
  const std::size_t width = log.columns.size(), rows = log.rows();
  if (width == 0 || log.names.size() != width)
    detail::refuse_writing(path, "expected at least one column and one name for each");
  for (std::size_t i = 0; i < width; ++i)
    if (log.columns[i].size() != rows)
      detail::refuse_writing(path, "the column ", log.names[i], " has ", log.columns[i].size(), " rows, expected ",
                             rows, " as in ", log.names[0]);
  if (!decimals.empty() && decimals.size() != width)
    detail::refuse_writing(path, "expected a number of decimals for each of the ", width, " columns");
  for (const int count : decimals)
    if (count < 0 || count > 9) detail::refuse_writing(path, "expected 0 to 9 decimals, not ", count);

  write_atomically(path, [&](std::ostream& out) {
    std::string names;
    for (std::size_t i = 0; i < width; ++i)
      names += detail::message(i == 0 ? "" : ",", detail::header_cell(log.names[i]));
    out << names << '\n';
    std::vector<char> text(width * 33 + 65536);
    char* at = text.data();
    for (std::size_t row = 0; row < rows; ++row) {
      for (std::size_t i = 0; i < width; ++i) {
        const double value = log.columns[i][row];
        if (std::isinf(value))
          detail::refuse_writing(path, "row ", row + 1, " of the column ", log.names[i],
                                 " is infinite, expected finite values or NaN");
        if (!std::isnan(value))
          at = decimals.empty() ? detail::write_shortest(at, value) : detail::write_rounded(at, value, decimals[i]);
        else if (width == 1)
          at = std::copy_n("\"\"", 2, at);  // a blank line would be no row
        *at++ = i + 1 == width ? '\n' : ',';
      }
      if (at - text.data() < 65536 && row + 1 < rows) continue;
      out.write(text.data(), at - text.data());
      at = text.data();
    }
  });
}

}  // namespace fettle

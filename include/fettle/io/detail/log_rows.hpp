// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <filesystem>
#include <limits>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "fettle/error.hpp"
#include "fettle/io/csv_number.hpp"
#include "fettle/io/csv_reader.hpp"
#include "fettle/io/detail/csv_layout_definition.hpp"
#include "fettle/io/detail/log_clock.hpp"
#include "fettle/io/log_channel.hpp"
#include "fettle/io/message.hpp"

namespace fettle::detail {

/// Reads the wanted columns of one log file; the others are only counted.
class log_rows {
 public:
  static constexpr std::size_t rows_between_reports = 8192;

  log_rows(const std::filesystem::path& path, std::span<const log_channel> wanted, const log_rules& rules)
      : reader_(path, csv_forms::any), wanted_(wanted), rules_(rules) {
    for (const auto& departure : reader_.layout().departures()) {
      if (rules.is_strict) reader_.refuse({}, departure, ", expected plain CSV, because the rules are strict");
      notes_.push_back(departure);
    }
    find_columns();
  }

  /// Calls use(values) for every row: one per wanted channel, NaN where a cell is empty or the file has no such column.
  ///
  /// @return  what was found beside plain CSV.
  template <class Use>
  [[nodiscard]] std::vector<std::string> for_each(Use&& use) {
    const std::vector<conversion> conversions = all_conversions();
    std::vector<double> values(wanted_.size());
    while (next_row()) {
      for (std::size_t i = 0; i < values.size(); ++i) values[i] = conversions[i].converted();
      if (time_ == nullptr)
        use(std::span<const double>(values));
      else
        put_on_clock(values, use);
      ++rows_;
      if (rules_.progress && reader_.bytes_in_all() > 0 && rows_ % rows_between_reports == 0)
        rules_.progress((std::min)(1.0, share_read()));
    }
    if (rows_ == 0)
      reader_.refuse({.line = reader_.layout().first_line + reader_.layout().unit_lines + 1},
                     "found no row under the header, expected at least one");
    if (clock_) end_clock(use);
    if (rules_.progress) rules_.progress(1);
    add_notes();
    return std::move(notes_);
  }

  [[nodiscard]] double share_read() const noexcept {
    return reader_.bytes_in_all() == 0
               ? 1.0
               : static_cast<double>(reader_.bytes_done()) / static_cast<double>(reader_.bytes_in_all());
  }
  [[nodiscard]] bool has(const log_channel& channel) noexcept { return column_of(channel) != nullptr; }

 private:
  struct file_column {
    std::size_t number = 0;  ///< from 0
    double value = 0;        ///< in the row in hand
  };
  struct cut_short {};        ///< thrown for a last row that was not written whole
  struct repeated_header {};  ///< thrown for a header among the rows
  static constexpr double nothing = std::numeric_limits<double>::quiet_NaN();

  /// From the number in the file to the value of a wanted channel.
  struct conversion {
    const double* number;
    double factor, offset;
    bool is_scaled;  ///< times 1 plus 0 would turn -0 into 0

    [[nodiscard]] double converted() const noexcept { return is_scaled ? *number * factor + offset : *number; }
  };

  [[nodiscard]] std::vector<conversion> all_conversions() noexcept {
    std::vector<conversion> result;
    for (const auto& channel : wanted_) {
      const file_column* const column = column_of(channel);
      result.push_back({column == nullptr ? &nothing : &column->value, channel.factor, channel.offset,
                        channel.factor != 1 || channel.offset != 0});
    }
    return result;
  }

  [[nodiscard]] file_column* column_of(const log_channel& channel) noexcept {
    for (auto& column : columns_)
      if (reader_.header()[column.number] == channel.file_name) return &column;
    return nullptr;
  }

  void find_columns() {
    const auto& header = reader_.header();
    std::string missing;
    const log_channel* time = nullptr;
    for (auto channel = wanted_.begin(); channel != wanted_.end(); ++channel) {
      if (std::any_of(wanted_.begin(), channel, [&](const auto& other) { return other.name == channel->name; }))
        throw error(message("the channel ", shown(channel->name), " is asked for twice, expected different names"));
      if (channel->name == "time_s") time = &*channel;
      if (column_of(*channel) != nullptr) continue;
      const auto position = std::find(header.begin(), header.end(), channel->file_name);
      if (position == header.end()) {
        if (channel->required) missing += message(missing.empty() ? "" : ", ", shown(channel->file_name));
        continue;
      }
      refuse_second(*channel, static_cast<std::size_t>(position - header.begin()));
      columns_.push_back({static_cast<std::size_t>(position - header.begin())});
    }
    if (!missing.empty()) refuse_missing(missing);
    std::sort(columns_.begin(), columns_.end(), [](const auto& a, const auto& b) { return a.number < b.number; });
    if (time == nullptr || column_of(*time) == nullptr) return;
    time_ = column_of(*time);
    time_place_ = static_cast<std::size_t>(time - wanted_.data());
    clock_.emplace(time_place_);
  }

  void refuse_second(const log_channel& channel, std::size_t first) const {
    for (std::size_t i = first + 1; i < reader_.header().size(); ++i)
      if (reader_.header()[i] == channel.file_name)
        reader_.refuse({.line = header_line(), .column = i + 1}, "found the name ", shown(channel.file_name),
                       " again, expected it once; it names column ", first + 1, " too");
  }

  [[noreturn]] void refuse_missing(const std::string& missing) const {
    std::string columns;
    for (const auto& name : reader_.header()) columns += message(columns.empty() ? "" : ", ", shown(name));
    reader_.refuse({.line = header_line()}, "found no column ", missing, "; the columns are ", columns);
  }
  [[nodiscard]] std::size_t header_line() const noexcept { return reader_.layout().first_line; }

  /// Steps to the next row and reads it; false behind the last one.
  [[nodiscard]] bool next_row() {
    while (reader_.next()) {
      try {
        read_row();
        return true;
      } catch (const repeated_header&) {
        restarts_ = clock_ && rows_ > 0;
        notes_.push_back(message("line ", reader_.line(), " repeats the header: a new log begins there"));
      } catch (const cut_short&) {
        notes_.push_back(message("line ", reader_.line(), ", the last one, is cut short and left out"));
        return false;
      }
    }
    return false;
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
    const std::size_t width = reader_.header().size();
    const bool may_end_in_separator = reader_.layout().rows_end_in_separator;
    for (; at <= last; ++number) {
      if (may_end_in_separator && number == width && at == last) return;
      at = behind_cell(at, last, number) + 1;
    }
    if (number != width) refuse_width(number);
  }

  [[nodiscard]] const char* behind_cell(const char* at, const char* last, std::size_t number) const {
    if (at != last && *at == '"') return reader_.cell(at, number + 1).second;
    while (at != last && *at != reader_.separator()) ++at;
    return at;
  }

  /// The number in a cell, NaN when the cell is empty; moves `at` behind the cell.
  [[nodiscard]] double read_number(const char*& at, const char* last, std::size_t number) {
    const char separator = reader_.separator();
    if (at == last || *at == separator) return nothing;
    if (reader_.layout().decimal == '.') {
      const parsed_number parsed = parse_number(at, last);
      if (parsed.stop != nullptr && (parsed.stop == last || *parsed.stop == separator)) {
        at = parsed.stop;
        return parsed.value;
      }
    }
    return read_unusual_number(at, number);
  }

  /// The same for a cell with a decimal comma, blanks, quotes, a plus sign, or no number.
  [[nodiscard]] double read_unusual_number(const char*& at, std::size_t number) {
    auto [text, behind] = reader_.cell(at, number + 1);
    at = behind;
    if (text.empty()) return nothing;
    if (means_not_sampled(text) && !rules_.is_strict) {
      ++not_sampled_;
      return nothing;
    }
    const std::string as_written = text;
    if (reader_.layout().decimal == ',' && text.find('.') == std::string::npos)
      std::replace(text.begin(), text.end(), ',', '.');
    else if (reader_.layout().decimal == ',')
      text += '?';  // a point among decimal commas is no number
    if (const auto value = number_in(text)) return *value;
    refuse_number(number, as_written);
  }

  [[noreturn]] void refuse_number(std::size_t number, const std::string& text) {
    if (!rules_.is_strict && reader_.repeats_header()) throw repeated_header{};
    refuse_open_end();
    refuse_cell(number, "found ", shown(text), ", expected ",
                reader_.layout().decimal == ',' ? "a number with a decimal comma" : number_wanted_instead_of(text),
                " (an empty cell means not sampled)");
  }

  template <class Use>
  void put_on_clock(std::span<const double> values, Use& use) {
    const double now = values[time_place_], before = clock_->stamp();
    if (std::isnan(now)) refuse_cell(time_->number, "found no time stamp, expected one in every row");
    constexpr double least_fall_s = 1, latest_s = 1e12;  // beyond, a clock of doubles is too coarse
    if (!(std::fabs(now) < latest_s))
      refuse_cell(time_->number, "found a time of more than 1e12 s, expected seconds; is a factor missing?");
    if (!clock_->is_empty() && (rules_.is_strict ? !(now > before) : now < before)) {
      if (rules_.is_strict || (!restarts_ && !(now < before - least_fall_s))) refuse_time();
      if (!restarts_)
        notes_.push_back(message("the clock starts again in line ", reader_.line(), ": a new log begins there"));
      restarts_ = true;
    }
    if (restarts_) {
      end_clock(use);
      clock_->restart(now);
    } else if (now > before) {
      clock_->hand_on(now, use);
    }
    restarts_ = false;
    if (clock_->waiting() == log_clock::most_of_one_stamp)
      refuse_cell(time_->number, "found the same time stamp in ", log_clock::most_of_one_stamp + 1,
                  " rows, expected a clock that goes on");
    clock_->add(values);
    raw_time_before_ = time_->value;
  }

  template <class Use>
  void end_clock(Use& use) {
    if (clock_->waiting() > 1 && !clock_->has_resolution())
      refuse_cell(time_->number, "found one time stamp in all rows up to here, expected a clock that goes on");
    clock_->hand_on(std::numeric_limits<double>::infinity(), use);
  }

  [[noreturn]] void refuse_time() const {
    std::array<char, 32> text{};
    const std::string now(text.data(), write_shortest(text.data(), time_->value));
    if (time_->value == raw_time_before_)
      refuse_cell(time_->number, "found the time stamp ", now, " a second time, expected times that increase");
    const std::string before(text.data(), write_shortest(text.data(), raw_time_before_));
    refuse_cell(time_->number, "found the time stamp ", now, " after ", before, ", expected times that increase");
  }

  template <class... Part>
  [[noreturn]] void refuse_cell(std::size_t number, const Part&... complaint) const {
    reader_.refuse({.line = reader_.line(), .column = number + 1, .column_name = reader_.name_of(number + 1)},
                   complaint...);
  }

  [[noreturn]] void refuse_width(std::size_t count) const {
    if (count < reader_.header().size()) refuse_open_end();
    reader_.refuse({.line = reader_.line()}, "found ", count, " cells, expected ", reader_.header().size(),
                   " as in the header");
  }

  /// A last row without a line end was cut off in the middle; strict rules refuse it for what is wrong with it.
  void refuse_open_end() const {
    if (reader_.record_is_open() && !rules_.is_strict) throw cut_short{};
  }

  void add_notes() {
    if (not_sampled_ > 0)
      notes_.push_back(message(not_sampled_, " cells hold a word or dash for no value, taken as not sampled"));
    if (clock_ && clock_->most_waiting() > 1)
      notes_.push_back(message("time stamps repeat, up to ", clock_->most_waiting(),
                               " rows each; these rows are spread evenly until the next stamp"));
  }

  csv_reader reader_;
  std::span<const log_channel> wanted_;
  const log_rules& rules_;
  std::vector<std::string> notes_;
  std::vector<file_column> columns_;  ///< in the file's order
  const file_column* time_ = nullptr;
  std::size_t time_place_ = 0;  ///< of the time among the wanted channels
  std::optional<log_clock> clock_;
  bool restarts_ = false;  ///< the next row is the first of a new log
  double raw_time_before_ = 0;
  std::size_t rows_ = 0, not_sampled_ = 0;
};

}  // namespace fettle::detail

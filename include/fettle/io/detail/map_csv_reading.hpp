// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "fettle/io/csv_number.hpp"
#include "fettle/io/csv_reader.hpp"
#include "fettle/io/map_file.hpp"
#include "fettle/io/message.hpp"
#include "fettle/io/text.hpp"
#include "fettle/map/axis.hpp"
#include "fettle/map/dynamic_table.hpp"

namespace fettle::detail {

/// What a map file can call an axis or its values: a number would pass for a breakpoint, blanks would get lost, and
/// control characters would rule the terminal that shows them.
[[nodiscard]] inline bool is_name(std::string_view name) {
  return !name.empty() && without_blanks(name) == name && !number_in(name) && is_printable(name);
}

[[nodiscard]] inline bool is_axis_name(std::string_view name) {
  return is_name(name) && name.find('/') == std::string_view::npos;
}

[[nodiscard]] inline std::string refused_axis_name(std::string_view name) {
  return message("found the axis name ", shown(name),
                 ", expected plain text in UTF-8 without blanks around it or a slash, not a number");
}

[[nodiscard]] inline std::string refused_value_name(std::string_view name) {
  return message("found the value name ", shown(name),
                 ", expected plain text in UTF-8 without blanks around it, not a number");
}

/// Reads the cells of one map file; each step refuses what it does not understand.
class map_csv_reading {
 public:
  map_csv_reading(const std::filesystem::path& path, empty_cells empty) : reader_(path), empty_(empty) {}

  [[nodiscard]] map_file result() {
    std::vector<record> records;
    while (reader_.next()) records.push_back({reader_.line(), reader_.cells()});
    find_decimal_sign(records);
    read_header();
    for (const auto& each : records) read_row(each);
    if (rows_.size() < 2)
      reader_.refuse({.line = rows_.empty() ? 2 : row_lines_.back() + 1}, "found ", rows_.size(),
                     " rows under the header, expected at least two");
    std::vector<bool> descending;
    std::vector<dynamic_axis<double>> axes;
    descending.push_back(turn_upwards(rows_, axis_names_[0], [&](std::size_t i) {
      return csv_place{.line = row_lines_[i], .column = 1, .column_name = reader_.name_of(1)};
    }));
    if (descending[0]) reverse_rows();
    axes.push_back(*dynamic_axis<double>::from(std::move(rows_)));
    if (is_surface()) {
      descending.push_back(
          turn_upwards(columns_, axis_names_[1], [](std::size_t i) { return csv_place{.line = 1, .column = i + 2}; }));
      if (descending[1]) reverse_columns();
      axes.push_back(*dynamic_axis<double>::from(std::move(columns_)));
    }
    return {.axis_names = std::move(axis_names_),
            .table = *dynamic_table<double>::from(std::move(axes), std::move(values_)),
            .descending = std::move(descending),
            .value_name = std::move(value_name_),
            .separator = reader_.separator(),
            .decimal = decimal_};
  }

 private:
  struct record {
    std::size_t line;
    std::vector<std::string> cells;
  };

  /// A decimal comma: where cells are not separated by commas, a number has one, and none has a point.
  void find_decimal_sign(const std::vector<record>& records) {
    if (reader_.separator() == ',') return;
    bool has_commas = false;
    const auto look_at_numbers = [&](const std::vector<std::string>& cells) {
      for (const auto& cell : cells) {
        if (cell.find('.') != std::string::npos && number_in(cell)) return false;
        has_commas = has_commas || (cell.find(',') != std::string::npos && number_in(with_point(cell)));
      }
      return true;
    };
    bool has_points = !look_at_numbers(reader_.header());
    for (const auto& each : records) has_points = has_points || !look_at_numbers(each.cells);
    if (has_commas && !has_points) decimal_ = ',';
  }

  [[nodiscard]] static std::string with_point(std::string text) {
    std::replace(text.begin(), text.end(), ',', '.');
    return text;
  }

  [[nodiscard]] std::optional<double> number_of(const std::string& cell) const {
    if (decimal_ == '.') return number_in(cell);
    return cell.find('.') == std::string::npos ? number_in(with_point(cell)) : std::nullopt;
  }

  [[nodiscard]] bool is_surface() const noexcept { return axis_names_.size() == 2; }
  [[nodiscard]] std::size_t width() const noexcept { return is_surface() ? columns_.size() : 1; }

  void read_header() {
    const auto& header = reader_.header();
    const std::string& first = header[0];
    const csv_place corner{.line = 1, .column = 1};
    if (first.empty() || number_in(first))
      reader_.refuse(corner, "found ", shown(first), ", expected the axis names: rpm/throttle_pct, or rpm alone");
    const auto slash = first.find('/');
    if (slash == std::string::npos) {
      read_curve_header();
      return;
    }
    axis_names_ = {first.substr(0, slash), first.substr(slash + 1)};
    if (axis_names_[0].empty() || axis_names_[1].empty() || axis_names_[1].find('/') != std::string::npos)
      reader_.refuse(corner, "found ", shown(first), ", expected two axis names and one slash: rpm/throttle_pct");
    require_axis_names();
    if (header.size() < 3)
      reader_.refuse({.line = 1}, "found ", header.size() - 1, " breakpoints of ", axis_names_[1],
                     ", expected at least two");
    for (std::size_t i = 1; i < header.size(); ++i) {
      const auto point = number_of(header[i]);
      if (!point)
        refuse_number({.line = 1, .column = i + 1}, header[i], message(" (a breakpoint of ", axis_names_[1], ")"));
      columns_.push_back(*point);
    }
  }

  void read_curve_header() {
    const auto& header = reader_.header();
    if (header.size() != 2)
      reader_.refuse({.line = 1}, "found ", shown(header[0]), " and ", header.size(),
                     " columns, expected rpm/throttle_pct first for a map of two axes, or two columns "
                     "(axis, value) for a map of one axis");
    axis_names_ = {header[0]};
    require_axis_names();
    value_name_ = header[1];
    if (!is_name(value_name_)) reader_.refuse({.line = 1, .column = 2}, refused_value_name(value_name_));
  }

  void require_axis_names() const {
    for (const auto& name : axis_names_)
      if (!is_axis_name(name)) reader_.refuse({.line = 1, .column = 1}, refused_axis_name(name));
  }

  void read_row(const record& row) {
    const auto& cells = row.cells;
    if (cells.size() != width() + 1)
      reader_.refuse({.line = row.line}, "found ", cells.size(), " cells, expected ", width() + 1, " as in the header");
    for (std::size_t i = 0; i < cells.size(); ++i) {
      const csv_place here{.line = row.line, .column = i + 1, .column_name = reader_.name_of(i + 1)};
      if (i > 0 && cells[i].empty() && empty_ == empty_cells::are_holes) {
        values_.push_back(std::nan(""));
        continue;
      }
      const auto number = number_of(cells[i]);
      if (!number) refuse_number(here, cells[i], i == 0 ? message(" (a breakpoint of ", axis_names_[0], ")") : "");
      (i == 0 ? rows_ : values_).push_back(*number);
    }
    row_lines_.push_back(row.line);
  }

  [[noreturn]] void refuse_number(csv_place at, std::string_view text, const std::string& role) const {
    reader_.refuse(at, text.empty() ? "found an empty cell" : message("found ", shown(text)), ", expected ",
                   decimal_ == ',' ? "a number with a decimal comma" : number_wanted_instead_of(text), role);
  }

  /// Makes breakpoints ascend; true when they came descending.
  template <class PlaceOf>
  [[nodiscard]] bool turn_upwards(std::vector<double>& points, const std::string& name, PlaceOf place_of) const {
    const bool descends = points[1] < points[0];
    for (std::size_t i = 1; i < points.size(); ++i) {
      if (descends ? points[i] < points[i - 1] : points[i] > points[i - 1]) continue;
      char text[32];
      const std::string now(text, write_shortest(text, points[i]));
      const std::string before(text, write_shortest(text, points[i - 1]));
      reader_.refuse(place_of(i), "found the breakpoint ", now, " of ", name, " after ", before,
                     ", expected every breakpoint ", (descends ? "below" : "above"), " the one before");
    }
    if (descends) std::reverse(points.begin(), points.end());
    if (check_axis(points.data(), points.size()).fault == axis_fault::too_wide)
      reader_.refuse(place_of(points.size() - 1), "found breakpoints of ", name,
                     " further apart than 1.79e308, expected a span that a number can hold");
    return descends;
  }

  void reverse_rows() {
    std::reverse(values_.begin(), values_.end());
    reverse_columns();
  }

  void reverse_columns() {
    const auto step = static_cast<std::ptrdiff_t>(width());
    for (auto row = values_.begin(); row != values_.end(); row += step) std::reverse(row, row + step);
  }

  csv_reader reader_;
  empty_cells empty_;
  std::vector<std::string> axis_names_;
  std::string value_name_ = "value";
  char decimal_ = '.';
  std::vector<double> rows_, columns_, values_;
  std::vector<std::size_t> row_lines_;
};

}  // namespace fettle::detail

// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <filesystem>
#include <string>

#include "fettle/compiled.hpp"
#include "fettle/io/atomic_write.hpp"
#include "fettle/io/csv_number.hpp"
#include "fettle/io/csv_reader.hpp"
#include "fettle/io/detail/map_csv_reading.hpp"
#include "fettle/io/detail/refuse_writing.hpp"
#include "fettle/io/map_csv.hpp"
#include "fettle/io/map_file.hpp"
#include "fettle/io/message.hpp"

namespace fettle {
namespace detail {

inline void require_writable_map(const std::filesystem::path& path, const map_file& map) {
  const std::size_t rank = map.table.rank();
  if (rank != 1 && rank != 2) refuse_writing(path, "the map has ", rank, " axes, a map file holds one or two");
  if (map.axis_names.size() != rank || map.descending.size() != rank)
    refuse_writing(path, "expected one axis name and one direction for each of the ", rank, " axes");
  if (map.separator != ',' && map.separator != ';' && map.separator != '\t')
    refuse_writing(path, "expected a comma, semicolon or tab as separator");
  if (map.decimal != '.' && (map.decimal != ',' || map.separator == ','))
    refuse_writing(path, "expected a decimal point, or a decimal comma between semicolons or tabs");
  for (const auto& name : map.axis_names)
    if (!is_axis_name(name)) refuse_writing(path, refused_axis_name(name));
  if (rank == 1 && !is_name(map.value_name)) refuse_writing(path, refused_value_name(map.value_name));
}

}  // namespace detail

FETTLE_INLINE map_file read_map_csv(const std::filesystem::path& path, empty_cells empty) {
  return detail::map_csv_reading(path, empty).result();
}

FETTLE_INLINE void write_map_csv(const std::filesystem::path& path, const map_file& map) {
  detail::require_writable_map(path, map);
  const auto& axes = map.table.axes();
  const auto& rows = axes[0].points();
  const bool is_surface = axes.size() == 2;
  const std::size_t width = is_surface ? axes[1].size() : 1;
  std::string text;
  const auto append = [&](double value) {
    char digits[32];
    if (std::isinf(value)) detail::refuse_writing(path, "a value of the map is infinite, expected finite values");
    if (std::isnan(value)) return;
    char* const end = detail::write_shortest(digits, value);
    std::replace(digits, end, '.', map.decimal);
    text.append(digits, end);
  };
  const auto in_file_order = [&](std::size_t axis, std::size_t i, std::size_t size) {
    return map.descending[axis] ? size - 1 - i : i;
  };

  text +=
      detail::header_cell(is_surface ? detail::message(map.axis_names[0], "/", map.axis_names[1]) : map.axis_names[0]);
  if (!is_surface) (text += map.separator) += detail::header_cell(map.value_name);
  for (std::size_t j = 0; is_surface && j < width; ++j) {
    text += map.separator;
    append(axes[1].points()[in_file_order(1, j, width)]);
  }
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const std::size_t row = in_file_order(0, i, rows.size());
    text += '\n';
    append(rows[row]);
    for (std::size_t j = 0; j < width; ++j) {
      text += map.separator;
      append(map.table.values()[row * width + (is_surface ? in_file_order(1, j, width) : 0)]);
    }
  }
  write_atomically(path, text += '\n');
}

}  // namespace fettle

// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <filesystem>
#include <functional>
#include <ostream>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "fettle/compiled.hpp"
#include "fettle/io/atomic_write.hpp"
#include "fettle/io/csv_number.hpp"
#include "fettle/io/csv_reader.hpp"
#include "fettle/io/detail/log_columns.hpp"
#include "fettle/io/detail/log_rows.hpp"
#include "fettle/io/detail/refuse_writing.hpp"
#include "fettle/io/log_channel.hpp"
#include "fettle/io/log_csv.hpp"
#include "fettle/io/log_table.hpp"
#include "fettle/io/message.hpp"

namespace fettle {

FETTLE_INLINE log_table read_log_csv(const std::filesystem::path& path, std::span<const log_channel> wanted,
                                     const log_rules& rules) {
  detail::log_rows rows(path, wanted, rules);
  detail::log_columns filling(wanted.size());
  log_table log;
  log.notes = rows.for_each([&](std::span<const double> values) {
    filling.add(values);
    if (filling.rows() == detail::log_rows::rows_between_reports)  // by now it is known how long a row is
      filling.expect(static_cast<std::size_t>(1.05 * static_cast<double>(filling.rows()) / rows.share_read()));
  });
  auto columns = filling.take();
  for (std::size_t i = 0; i < wanted.size(); ++i) {
    if (!rows.has(wanted[i])) continue;
    log.names.push_back(wanted[i].name);
    log.columns.push_back(std::move(columns[i]));
  }
  return log;
}

FETTLE_INLINE std::vector<std::string> for_each_log_row(const std::filesystem::path& path,
                                                        std::span<const log_channel> wanted,
                                                        const std::function<void(std::span<const double>)>& use,
                                                        const log_rules& rules) {
  return detail::log_rows(path, wanted, rules).for_each(use);
}

FETTLE_INLINE void write_log_csv(const std::filesystem::path& path, const log_table& log,
                                 std::span<const int> decimals) {
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

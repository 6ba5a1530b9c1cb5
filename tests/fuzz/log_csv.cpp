// SPDX-License-Identifier: MIT
// Log files: refused in words, or read, and then written and read again to the same log.
#include "fettle/io/log_csv.hpp"

#include <array>
#include <cmath>

#include "files.hpp"

namespace {

using fuzz::law;

void check_round_trip(const fettle::log_table& log) {
  static const auto path = fuzz::scratch_path("log.csv");
  fettle::write_log_csv(path, log);
  std::vector<fettle::log_channel> wanted;
  for (const auto& name : log.names) wanted.push_back({.name = name, .file_name = name});
  const auto again = fettle::read_log_csv(path, wanted);
  law(again.names == log.names && again.rows() == log.rows(), "rows and columns come back");
  for (std::size_t i = 0; i < log.columns.size(); ++i)
    for (std::size_t row = 0; row < log.rows(); ++row)
      law(fuzz::same(again.columns[i][row], log.columns[i][row]), "numbers come back to the last bit");
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  fuzz::bytes in(data, size);
  const std::size_t draw = in.below(8), choice = draw % 4;
  const bool is_strict = draw >= 4;
  const std::array<std::vector<fettle::log_channel>, 4> choices{{
      {{.name = "time_s", .file_name = "t"}, {.name = "a", .file_name = "a"}},
      {{.name = "b", .file_name = "b"}, {.name = "a", .file_name = "a", .required = false}},
      {{.name = "a", .file_name = "a"}, {.name = "b", .file_name = "a", .factor = 0.25, .offset = -1}},
      {{.name = "time_s", .file_name = "t", .factor = -1}, {.name = "x y", .file_name = "a;b", .required = false}},
  }};
  const fuzz::memory_file file({in.text(), in.size()});
  try {
    const auto log = fettle::read_log_csv(file.path(), choices[choice], {.is_strict = is_strict});
    law(log.names.size() == log.columns.size() && log.rows() >= 1, "a log has rows");
    for (const auto& column : log.columns) law(column.size() == log.rows(), "columns are of one length");
    for (const auto& column : log.columns)
      for (const double value : column) law(!std::isinf(value), "values are numbers or missing");
    law(log.notes.empty() || !is_strict, "strict rules guess nothing");
    for (const auto& note : log.notes) law(!note.empty(), "a note says something");
    if (log.notes.empty() && choice != 3) check_round_trip(log);  // where nothing was spread
  } catch (const fettle::error& refused) {
    fuzz::check_refusal(refused, file.path());
  }
  return 0;
}

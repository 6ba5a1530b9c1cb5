// SPDX-License-Identifier: MIT
#include "common/session/trim_maps.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <span>
#include <string>

namespace session {
namespace {

/// A file of two lines, "trim" and a number: a trim without axes.
[[nodiscard]] bool is_lone_trim(const std::filesystem::path& path) {
  return fettle::preview_log_csv(path, 0).names == std::vector<std::string>{lone_trim_name};
}

[[nodiscard]] fettle::map_file read_lone_trim(const std::filesystem::path& path) {
  const std::vector<fettle::log_channel> wanted{{.name = lone_trim_name, .file_name = lone_trim_name}};
  const auto file = fettle::read_log_csv(path, wanted);
  if (file.rows() != 1)
    throw fettle::error(fmt::format("{}: has {} numbers under \"{}\", expected one: a trim without axes is one number",
                                    fettle::path_text(path), file.rows(), lone_trim_name));
  return {.axis_names = {},
          .table = *fettle::dynamic_table<double>::from({}, std::vector<double>{file.columns[0][0]}),
          .descending = {}};
}

}  // namespace

fettle::map_file read_trim(const std::filesystem::path& path) {
  fettle::map_file trim = is_lone_trim(path) ? read_lone_trim(path) : fettle::read_map_csv(path);
  for (const double value : trim.table.values())
    if (!(value > 0))
      throw fettle::error(
          fmt::format("{}: holds {}, expected a value above 0: a trim multiplies the fuel of its cylinder, 1.02 adds "
                      "2 %",
                      fettle::path_text(path), value));
  return trim;
}

trim_maps read_trims(const std::vector<std::filesystem::path>& paths) {
  trim_maps result;
  for (const auto& path : paths) result.push_back(read_trim(path));
  return result;
}

double trim_at_cell(const fettle::map_file& trim, const std::filesystem::path& path, const fettle::map_file& map,
                    std::size_t cell) {
  const auto at = fettle::cell_coordinates(map.table.axes(), cell);
  std::vector<double> x;
  for (const auto& name : trim.axis_names) {
    const auto axis = std::find(map.axis_names.begin(), map.axis_names.end(), name);
    if (axis == map.axis_names.end())
      throw fettle::error(
          fmt::format("{}: has the axis \"{}\", expected {}", fettle::path_text(path), name,
                      map.axis_names.empty() ? "none" : fmt::format("{}", fmt::join(map.axis_names, ", "))));
    x.push_back(at[static_cast<std::size_t>(axis - map.axis_names.begin())]);
  }
  return fettle::interpolate(trim.table, std::span<const double>(x));
}

}  // namespace session

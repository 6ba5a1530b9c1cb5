// SPDX-License-Identifier: MIT
// Fuel maps beside the truth that the virtual engine writes: how far lambda would be off, and where it would be lean.
#include <fmt/format.h>

#include <cstddef>
#include <filesystem>
#include <string>
#include <vector>

#include "common/command/run_program.hpp"
#include "common/session/cell_name.hpp"
#include "common/session/read_fuel_map.hpp"
#include "common/session/require_axes.hpp"
#include "compare_maps/map_errors.hpp"
#include "fettle/error.hpp"
#include "fettle/io/map_csv.hpp"
#include "fettle/io/text.hpp"

namespace {

namespace fs = std::filesystem;

/// Cells that were driven for so long; all of them without a file that says so.
std::vector<std::size_t> driven_cells(const fs::path& path, double least_s, const fettle::map_file& truth,
                                      const std::string& whose) {
  std::vector<std::size_t> cells;
  if (path.empty()) {
    for (std::size_t k = 0; k < truth.table.size(); ++k) cells.push_back(k);
    return cells;
  }
  const auto seconds = fettle::read_map_csv(path);
  session::require_axes(path, seconds, truth, whose);
  for (std::size_t k = 0; k < seconds.table.size(); ++k)
    if (seconds.table.values()[k] >= least_s) cells.push_back(k);
  if (cells.empty())
    throw fettle::error(
        fmt::format("{}: no cell was driven for {:g} s; give fewer --least-seconds", fettle::path_text(path), least_s));
  return cells;
}

void print(const fs::path& path, const fettle::map_file& truth, const compare_maps::map_errors& errors) {
  const auto place = [&](std::size_t k) {
    return fmt::format("{:+.2f} % at {}", errors.error_pct[k], session::cell_name(truth, errors.cells[k]));
  };
  fmt::print("{}\n  rms {:.2f} %; over 2 % lean {:.1f} % of the cells, over 3 % lean {:.1f} %\n",
             fettle::path_text(path), errors.rms_pct(), errors.lean_share_pct(2), errors.lean_share_pct(3));
  fmt::print("  leanest {}; richest {}\n", place(errors.leanest()), place(errors.richest()));
}

}  // namespace

int main(int count, char** words) {
  std::vector<fs::path> paths;
  fs::path truth_path, seconds_path;
  double least_s = 1;
  const auto work = [&] {
    const std::string whose = "the truth in " + fettle::path_text(truth_path);
    const auto truth = session::read_fuel_map(truth_path);
    const auto cells = driven_cells(seconds_path, least_s, truth, whose);
    std::vector<fettle::map_file> maps;  // all are read before anything is said of one
    for (const auto& path : paths) {
      maps.push_back(session::read_fuel_map(path));
      session::require_axes(path, maps.back(), truth, whose);
    }
    fmt::print("lambda over its target, less 1, engine steady, in {} of {} cells\n", cells.size(), truth.table.size());
    for (std::size_t i = 0; i < maps.size(); ++i)
      print(paths[i], truth, compare_maps::errors_of(maps[i], truth, cells));
    return 0;
  };
  const program::command command{
      "compare_maps",
      "Compares maps of fuel with the truth, where it is known.",
      {program::required({"maps", &paths, "maps of fuel (CSV), one or more"}),
       program::required({"--truth", &truth_path, "the fuel that is right, on the same axes: truth/fuel_map.csv"}),
       {"--seconds", &seconds_path, "how long each cell was driven: only such cells count; all without it"},
       {"--least-seconds", &least_s, "how long a cell must have been driven to count", 0, 1e6}},
      work};
  return program::run_program(command, count, words);
}

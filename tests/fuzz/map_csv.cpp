// SPDX-License-Identifier: MIT
// Map files: refused in words, or read, and then written and read again to the same map.
#include "fettle/io/map_csv.hpp"

#include <cmath>

#include "files.hpp"

namespace {

using fuzz::law;

void check_round_trip(const fettle::map_file& map, fettle::empty_cells empty) {
  static const auto path = fuzz::scratch_path("map.csv");
  fettle::write_map_csv(path, map);
  const auto again = fettle::read_map_csv(path, empty);
  law(again.axis_names == map.axis_names && again.descending == map.descending, "axes come back");
  law(map.table.rank() == 2 || again.value_name == map.value_name, "the name of the values comes back");
  law(again.table.axes() == map.table.axes(), "breakpoints come back to the last bit");
  for (std::size_t i = 0; i < map.table.size(); ++i)
    law(fuzz::same(again.table.values()[i], map.table.values()[i]), "cells come back to the last bit");
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  fuzz::bytes in(data, size);
  const auto empty = in.below(2) == 0 ? fettle::empty_cells::refused : fettle::empty_cells::are_holes;
  const fuzz::memory_file file({in.text(), in.size()});
  try {
    const auto map = fettle::read_map_csv(file.path(), empty);
    law(map.table.rank() == map.axis_names.size() && map.descending.size() == map.table.rank(), "one name per axis");
    for (const double value : map.table.values())
      law(std::isfinite(value) || (std::isnan(value) && empty == fettle::empty_cells::are_holes), "values are numbers");
    check_round_trip(map, empty);
  } catch (const fettle::error& refused) {
    fuzz::check_refusal(refused, file.path());
  }
  return 0;
}

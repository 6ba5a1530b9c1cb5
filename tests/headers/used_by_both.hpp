// SPDX-License-Identifier: MIT
#pragma once

/// What both units use of the library, so that the linker has definitions to compare.
inline int used_by_both() {
  static constexpr fettle::axis<float, 2> speed_rpm{{1000, 3000}};
  static constexpr fettle::table mass_mg{speed_rpm, {4, 6}};
  volatile float speed = 2000;
  auto* volatile read_map = &fettle::read_map_csv;
  auto* volatile read_log = &fettle::read_log_csv;
  return fettle::interpolate(mass_mg, speed) == 5 && read_map != nullptr && read_log != nullptr ? 0 : 1;
}

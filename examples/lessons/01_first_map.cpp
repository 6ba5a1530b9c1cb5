// SPDX-License-Identifier: MIT
// A map and what it says: five cylinders breathing through individual throttles, air per cylinder and cycle in mg.
#include <cstdio>

#include "fettle/map.hpp"

// Axes and values are checked by the compiler: try a breakpoint out of order, or a value too few.
constexpr fettle::axis<double, 4> speed_rpm{{1000, 3000, 6000, 9000}};
constexpr fettle::axis<double, 3> throttle_pct{{0, 20, 100}};
constexpr fettle::table air_mg{speed_rpm,
                               throttle_pct,
                               {60, 420, 540,  //
                                40, 330, 580,  //
                                30, 260, 600,  //
                                25, 210, 560}};

static_assert(fettle::interpolate(air_mg, 3000, 100) == 580);  // a look-up costs nothing if it can be done beforehand

int main() {
  std::printf("between breakpoints, 4500 rpm and 50 %%: %.1f mg\n", fettle::interpolate(air_mg, 4500, 50));
  std::printf("outside, 12000 rpm and 100 %%:          %.1f mg\n", fettle::interpolate(air_mg, 12000, 100));
  const auto at = fettle::interpolate_with_slopes(air_mg.view(), 4500, 50);
  std::printf("there it rises by %.2f mg per percent of throttle\n", at.slope[1]);
  fettle::solve(air_mg.view(), 1, fettle::locate(air_mg.view(), 4500, 0), 400.0,
                [](double pct, double) { std::printf("and gives 400 mg at %.1f %%\n", pct); });
}

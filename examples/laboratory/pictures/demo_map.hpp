// SPDX-License-Identifier: MIT
#pragma once

#include "fettle/map.hpp"

namespace laboratory {

/// Fuel of one cylinder and cycle in mg over speed in rpm and throttle in %: invented, for half a litre a cylinder.
inline constexpr fettle::axis<double, 6> demo_speed_rpm{{1000, 2500, 4000, 5500, 7000, 8500}};
inline constexpr fettle::axis<double, 5> demo_throttle_pct{{0, 10, 25, 50, 100}};
inline constexpr fettle::table demo_fuel_mg{demo_speed_rpm, demo_throttle_pct, {6.0, 22.5, 31.0, 33.5, 34.0,  //
                                                                                4.2, 16.8, 29.5, 35.0, 36.0,  //
                                                                                3.1, 12.4, 25.6, 35.8, 38.0,  //
                                                                                2.6, 10.1, 22.0, 34.9, 40.5,  //
                                                                                2.2, 8.3,  18.7, 32.4, 41.0,  //
                                                                                1.9, 7.0,  15.9, 28.8, 38.2}};

}  // namespace laboratory

// SPDX-License-Identifier: MIT
// expects: one_integer_per_axis
#include "fettle/map.hpp"

constexpr fettle::axis<short, 2> speed_rpm{{1000, 3000}};
constexpr std::array<short, 2> values{20, 80};
constexpr fettle::map_view<1, short> curve{.axes = {speed_rpm.view()}, .values = values.data()};

#ifdef FETTLE_WRONG
constexpr int duty = fettle::interpolate(curve, 1500.5);
#else
constexpr int duty = fettle::interpolate(curve, 1500);
#endif

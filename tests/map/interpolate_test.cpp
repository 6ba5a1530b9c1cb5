// SPDX-License-Identifier: MIT
#include "fettle/map/interpolate.hpp"

#include <gtest/gtest.h>

#include "fettle/map/dynamic_table.hpp"
#include "reference.hpp"

namespace {

// Published: throttle-speed air map of the Crossley & Cook (1991) engine model, first 42 nodes; bilinear values by
// SciPy RegularGridInterpolator on clamped inputs (tests/reference/map_lookup.csv). Tolerance: 1e-12 relative, double.
TEST(InterpolateRank2, MatchesSciPyOnThrottleSpeedAirMap) {
  const auto nodes = reference::csv::read("throttle_speed_air.csv");
  std::vector<double> theta, speed, values;
  for (const auto& row : nodes.rows) {
    const double t = reference::csv::number(row, "theta_deg"), n = reference::csv::number(row, "N_rad_s");
    if (values.size() == 42) break;
    if (theta.empty() || theta.back() != t) theta.push_back(t);
    if (theta.size() == 1) speed.push_back(n);
    values.push_back(reference::csv::number(row, "air_g_per_event"));
  }
  const auto map = fettle::dynamic_table<double>::from(
      {*fettle::dynamic_axis<double>::from(theta), *fettle::dynamic_axis<double>::from(speed)}, values);
  ASSERT_TRUE(map);
  for (const auto& row : reference::csv::read("map_lookup.csv").rows) {
    const double expected = reference::csv::number(row, "bilinear");
    const double x = reference::csv::number(row, "theta"), y = reference::csv::number(row, "N");
    EXPECT_NEAR(fettle::interpolate(map->view<2>(), x, y), expected, 1e-12 * expected) << x << ' ' << y;
  }
}

constexpr fettle::axis<float, 3> speed_rpm{{1000, 3000, 9000}};
constexpr fettle::axis<float, 2> pressure_kpa{{40, 100}};
constexpr fettle::table mass_mg{speed_rpm, pressure_kpa, {4, 20, 5, 24, 6, 22}};
static_assert(fettle::interpolate(mass_mg, 3000, 100) == 24.0F);
static_assert(fettle::interpolate(mass_mg, 1e9F, -1) == 6.0F);

}  // namespace

// SPDX-License-Identifier: MIT
#include "fettle/fuel/charge.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <vector>

#include "fettle/map/dynamic_table.hpp"
#include "reference.hpp"

namespace charge_test {

// Computed: efficiency 0.9, 100 kPa, 0.5 litres, 298.15 K, R = 287.05 J/(kg K): 0.525799 g.
TEST(SpeedDensity, MatchesTheIdealGasLaw) {
  EXPECT_NEAR(fettle::speed_density_mg<double>(0.9, {100, 25}, 500), 525.799, 0.5e-3);
  EXPECT_NEAR(fettle::air_mass_mg<double>({100, 25}, 500), 525.799 / 0.9, 0.5e-3 / 0.9);
}

// Published: P. R. Crossley, J. A. Cook, "A nonlinear engine model for drivetrain system development", IEE Control 91
// (1991), as in the Modelica Standard Library, which starts at 0.543 bar and 25 N.m. The air of that start point
// (8.9 deg, 207.34 rad/s) follows from the equations; the map of 42 points around it gives it back through alpha-N.
TEST(AlphaN, ReproducesTheThrottleSpeedEngineModel) {
  std::vector<double> throttle, speed, air_mg;
  std::map<double, std::map<double, double>> cells;
  const auto nodes = reference::csv::read("throttle_speed_air.csv");
  for (std::size_t i = 0; i < 42; ++i) {
    const auto number = [&](const char* name) { return reference::csv::number(nodes.rows[i], name); };
    cells[number("N_rad_s") * 30 / M_PI][number("theta_deg")] = 1000 * number("air_g_per_event");
  }
  for (const auto& [rpm, row] : cells) {
    speed.push_back(rpm);
    for (const auto& [deg, mg] : row) {
      if (speed.size() == 1) throttle.push_back(deg);
      air_mg.push_back(mg);
    }
  }
  const auto table = fettle::dynamic_table<double>::from(
      {*fettle::dynamic_axis<double>::from(speed), *fettle::dynamic_axis<double>::from(throttle)}, air_mg);
  ASSERT_TRUE(table);
  const fettle::air_state<double> reference_air{100, 25};
  for (const auto& [rpm, row] : cells) {
    for (const auto& [deg, mg] : row) {
      EXPECT_NEAR(fettle::alpha_n_mg(table->view<2>(), rpm, deg, reference_air, reference_air), mg, 1e-9 * mg);
      EXPECT_NEAR(fettle::alpha_n_mg(table->view<2>(), rpm, deg, {90, 25}, reference_air), 0.9 * mg, 1e-9 * mg);
    }
  }
  // Linear in its cells where the model is curved: 3 % is what a 7 x 6 map gives at the start point.
  const auto start = nodes.rows[42];
  const double expected = 1000 * reference::csv::number(start, "air_g_per_event");
  EXPECT_NEAR(fettle::alpha_n_mg(table->view<2>(), 207.34 * 30 / M_PI, 8.9, reference_air, reference_air), expected,
              0.03 * expected);
  // The published start point itself: pressure within 0.3 %, torque within 0.5 %.
  EXPECT_NEAR(reference::csv::number(start, "p_man_bar"), 0.543, 0.003 * 0.543);
  EXPECT_NEAR(reference::csv::number(start, "torque_Nm"), 25, 0.005 * 25);
}

TEST(DensityRatio, IsPressureOverTemperature) {
  EXPECT_DOUBLE_EQ(fettle::density_ratio<double>({50, 26.85}, {100, 26.85}), 0.5);
  EXPECT_NEAR(fettle::density_ratio<double>({100, 326.85}, {100, 26.85}), 0.5, 1e-15);
  EXPECT_TRUE(std::isnan(fettle::density_ratio<double>({100, -300}, {100, 25})));
  EXPECT_TRUE(std::isnan(fettle::density_ratio<double>({-1, 25}, {100, 25})));
  EXPECT_TRUE(std::isnan(fettle::density_ratio<double>({100, std::nan("")}, {100, 25})));
  EXPECT_TRUE(std::isnan(fettle::density_ratio<double>({100, 25}, {100, -273.15})));
}

static_assert(fettle::density_ratio<float>({50, 20}, {100, 20}) == 0.5F);

}  // namespace charge_test

// SPDX-License-Identifier: MIT
#include "fettle/lambda/cylinder_model.hpp"

#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <string>
#include <vector>

#include "fettle/fit/fit_rows.hpp"
#include "reference.hpp"

namespace {

struct square_reading {
  std::size_t run, sensor, cylinder;  // row, column and treatment of the square, each from 0
  double value;
};

struct square_fit {
  double mean = 0, squares = 0;
  std::vector<double> run, sensor, cylinder;
};

/// A Latin square through the model of the cylinders. In a balanced square a prior of weight p shrinks each effect by
/// exactly size / (size + p), which is undone here: what remains is least squares.
square_fit fit(const std::vector<square_reading>& readings, std::size_t size) {
  constexpr double spread = 10;
  const double grown = 1 + 1 / (spread * spread * static_cast<double>(size));
  fettle::rotation design{.cylinders = size, .runs = size, .sensors = {}, .stays = {}};
  for (std::size_t j = 0; j < size; ++j) design.sensors.push_back({"sensor " + std::to_string(j + 1)});
  const fettle::cylinder_model shape({}, design, {.trim = spread, .gain = spread, .run = spread});
  const auto model = shape.model(1, 0.0);
  fettle::sample_rows rows;
  fettle::cylinder_model::row row;
  const auto at = fettle::trim_cells({}).at(std::array<double, 2>{});
  for (const auto& one : readings) {
    shape.write(row, one.run, one.sensor, one.cylinder + 1, at);
    for (std::size_t k = 0; k < row.cell.size(); ++k) rows.put(row.cell[k], row.factor[k]);
    rows.finish(one.value);
  }
  const auto found = fettle::fit_rows(model, rows).cells;
  square_fit result{.mean = found.value[0], .squares = 0, .run = {}, .sensor = {}, .cylinder = {}};
  for (std::size_t k = 0; k < size; ++k) {
    result.cylinder.push_back(grown * found.value[shape.first_trim() + k]);
    result.sensor.push_back(grown * found.value[shape.offset_of_sensor(k)]);
    result.run.push_back(grown * found.value[shape.offset_of_run(k)]);
  }
  for (const auto& one : readings) {
    const double left =
        one.value - result.mean - result.run[one.run] - result.sensor[one.sensor] - result.cylinder[one.cylinder];
    result.squares += left * left;
  }
  return result;
}

// Published: R data set OrchardSprays (Finney 1947, "Probit Analysis"), effects and residual sum of squares by aov of
// R 4.2.2, tests/reference/latin_square_*.csv.
TEST(CylinderModel, GivesTheEffectsOfFinneysLatinSquare) {
  std::vector<square_reading> readings;
  for (const auto& row : reference::csv::read("latin_square_data.csv").rows) {
    const auto level = [&](const char* name) {
      return static_cast<std::size_t>(reference::csv::number(row, name)) - 1;
    };
    readings.push_back({level("row"), level("column"), level("treatment"), reference::csv::number(row, "y")});
  }
  const auto found = fit(readings, 8);
  EXPECT_NEAR(found.mean, 45.421875, 1e-9);
  EXPECT_NEAR(found.squares, 15994.90625, 1e-9);
  std::size_t compared = 0;
  for (const auto& row : reference::csv::read("latin_square_effects.csv").rows) {
    if (row.at("set") != "OrchardSprays") continue;
    const auto level = static_cast<std::size_t>(reference::csv::number(row, "level")) - 1;
    const auto& effects = row.at("factor") == "row"      ? found.run
                          : row.at("factor") == "column" ? found.sensor
                                                         : found.cylinder;
    EXPECT_NEAR(effects[level], reference::csv::number(row, "effect"), 1e-9) << row.at("factor") << level;
    ++compared;
  }
  EXPECT_EQ(compared, 24u);
}

// G. E. P. Box, W. G. Hunter, J. S. Hunter, "Statistics for Experimenters" (1978), petrol additives on four cars with
// four drivers: data from memory; its sums agree by hand.
TEST(CylinderModel, GivesTheMeansOfTheFourPetrolAdditives) {
  const std::array<std::string, 4> additive{"ABDC", "DCAB", "BDCA", "CABD"};
  const double reading[4][4] = {{21, 26, 20, 25}, {23, 26, 20, 27}, {15, 13, 16, 16}, {17, 15, 20, 20}};
  std::vector<square_reading> readings;
  for (std::size_t driver = 0; driver < 4; ++driver)
    for (std::size_t car = 0; car < 4; ++car)
      readings.push_back({driver, car, static_cast<std::size_t>(additive[driver][car] - 'A'), reading[driver][car]});
  const auto found = fit(readings, 4);
  const double expected[4] = {18, 22, 21, 19};
  for (std::size_t k = 0; k < 4; ++k) EXPECT_NEAR(found.mean + found.cylinder[k], expected[k], 1e-9);
  EXPECT_NEAR(found.squares, 16, 1e-9);
}

TEST(CylinderModel, TrimsSumToZeroInEveryCellWithoutBeingTold) {
  fettle::rotation design{.cylinders = 3, .runs = 1, .sensors = {{"a", true}, {"b", true}, {"c", true}}, .stays = {}};
  const std::vector axes{*fettle::dynamic_axis<double>::from({0, 1, 2})};
  const fettle::cylinder_model shape(axes, design, {});
  const auto model = shape.model(0.006, 1e-3);
  fettle::evidence seen(model.cells());
  fettle::cylinder_model::row row;
  const fettle::trim_cells cells(axes);
  for (std::size_t i = 0; i < 3; ++i)
    for (double x = 0; x <= 2; x += 0.125) {
      shape.write(row, 0, i, i + 1, cells.at(std::array{x, 0.0}));
      seen.add(row.cell, row.factor, 0.3 + 0.01 * static_cast<double>(i * i) * x + 0.02 * std::sin(5 * x), 1);
    }
  const auto found = model.solve(seen);
  for (std::size_t k = 0; k < 3; ++k)
    EXPECT_NEAR(found.value[3 + k] + found.value[6 + k] + found.value[9 + k], 0, 1e-9);
  for (const auto& trims = shape.trims(found.value); const std::size_t k : {0u, 1u, 2u})
    EXPECT_NEAR(trims[0][k] + trims[1][k] + trims[2][k], 3, 1e-12);
}

TEST(CylinderModel, ACollectorReadsTheAirWeightedMeanOfPhi) {
  fettle::rotation design{.cylinders = 4, .runs = 1, .sensors = {{"collector", true}}, .stays = {}};
  const fettle::cylinder_model shape({}, design, {});
  // Logarithms of phi; the air of a cylinder goes as 1/phi when all get the same fuel.
  const std::vector<double> value{0.02, 0.03, -0.01, 0.04, -0.06};
  double fuel = 0, air = 0;
  for (std::size_t i = 1; i <= 4; ++i) fuel += 1, air += std::exp(-value[0] - value[i]);
  const double collector = std::log(fuel / air);  // element conservation
  fettle::cylinder_model::row row;
  shape.write(row, 0, 0, 0, fettle::trim_cells({}).at(std::array<double, 2>{}));
  double linear = 0;
  for (std::size_t k = 0; k < row.cell.size(); ++k) linear += row.factor[k] * value[row.cell[k]];
  EXPECT_NEAR(linear - shape.mixing_rest(value)[0], collector, 1e-14);
}

TEST(TrimCells, HoldTheEndAndSumToOne) {
  const std::vector axes{*fettle::dynamic_axis<double>::from({0, 1, 3}), *fettle::dynamic_axis<double>::from({0, 10})};
  const fettle::trim_cells cells(axes);
  EXPECT_EQ(cells.size(), 6u);
  for (const double x : {-5.0, 0.0, 0.5, 2.0, 3.0, 99.0}) {
    const auto at = cells.at(std::array{x, 4.0});
    double sum = 0;
    for (std::size_t k = 0; k < at.size; ++k) sum += at.weight[k];
    EXPECT_NEAR(sum, 1, 1e-15);
  }
  EXPECT_EQ(cells.at(std::array{99.0, 99.0}).cell[3], 5u);
  EXPECT_EQ(cells.at(std::array{99.0, 99.0}).weight[3], 1);
}

}  // namespace

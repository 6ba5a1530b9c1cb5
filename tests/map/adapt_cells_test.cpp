// SPDX-License-Identifier: MIT
#include "fettle/map/adapt_cells.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <limits>

#include "draws.hpp"
#include "fettle/map/adapt.hpp"
#include "fettle/map/axis.hpp"
#include "fettle/map/place.hpp"

namespace adapt_cells_test {

constexpr fettle::axis<double, 3> x_axis{{0, 1, 3}};
constexpr fettle::axis<double, 3> y_axis{{10, 20, 40}};
constexpr std::array axes{x_axis.view(), y_axis.view()};

[[nodiscard]] fettle::stencil<2, double> at(double x, double y) {
  return fettle::stencil_at(axes, std::array{fettle::locate(axes[0], x), fettle::locate(axes[1], y)});
}

struct learner {
  std::array<std::uint8_t, 9> cells{};
  std::array<std::int16_t, 9> remainder{};
  std::array<double, 9> variance{};
  fettle::learning_cells<double, std::uint8_t> map{
      .cells = cells.data(), .remainder = remainder.data(), .scaling = {0.5, -20}};

  learner() {
    cells.fill(60);  // 10 in the unit of the map
    variance.fill(1);
  }
  learner(const learner&) = delete;
  [[nodiscard]] double exact(std::size_t k) const {
    return map.scaling.factor * (cells[k] + remainder[k] / 65536.0) + map.scaling.offset;
  }
};

// With remainders, cells of a coarse unit learn what numbers would, to the 2^-16 of their unit that each step rounds.
RC_GTEST_PROP(AdaptCells, LearnWhatNumbersLearn, ()) {
  learner learns;
  std::array<double, 9> numbers{}, variance{};
  numbers.fill(10);
  variance.fill(1);
  const fettle::adapt_settings<double> how{.noise_variance = 4, .forgetting = 0.999, .variance_cap = 1};
  for (int k = 0; k < 300; ++k) {
    const auto here = at(draws::real<double>(-1, 4), draws::real<double>(5, 45));
    const double measured = draws::real<double>(5, 30);
    RC_ASSERT(fettle::adapt(learns.map, learns.variance.data(), here, measured, how).has_value());
    RC_ASSERT(fettle::adapt(numbers.data(), variance.data(), here, measured, how).has_value());
  }
  for (std::size_t k = 0; k < 9; ++k) RC_ASSERT(std::abs(learns.exact(k) - numbers[k]) < 300 * 0.5 / 65536);
}

// Corrections of a hundredth of a cell's unit are not lost: a hundred and more of them move the cell.
TEST(AdaptCells, AddUpCorrectionsSmallerThanTheirUnit) {
  learner learns;
  const fettle::adapt_settings<double> how{
      .noise_variance = 99, .forgetting = 1, .drift_variance = 1, .variance_cap = 1};
  for (int k = 0; k < 2000; ++k) ASSERT_TRUE(fettle::adapt(learns.map, learns.variance.data(), at(1, 20), 10.4, how));
  EXPECT_EQ(learns.cells[4], 61);  // 10.5 is the nearest to 10.4
  EXPECT_NEAR(learns.exact(4), 10.4, 1e-3);
  EXPECT_EQ(learns.cells[0], 60);
}

TEST(AdaptCells, KeepToTheirLimitsAndStoreNothingUpThere) {
  learner learns;
  std::array<std::uint8_t, 9> lowest{}, highest{};
  lowest.fill(50);
  highest.fill(70);
  learns.map.lowest = lowest.data();
  learns.map.highest = highest.data();
  for (int k = 0; k < 200; ++k) (void)fettle::adapt(learns.map, learns.variance.data(), at(1, 20), 100.0);
  EXPECT_EQ(learns.cells[4], 70);
  EXPECT_EQ(learns.remainder[4], 0);
  learns.variance.fill(1);
  (void)fettle::adapt(learns.map, learns.variance.data(), at(1, 20), 0.0);
  EXPECT_LT(learns.cells[4], 70) << "the way back begins at once";
  learner free;  // the ends of the type
  for (int k = 0; k < 2000; ++k) {
    free.variance.fill(1);
    (void)fettle::adapt(free.map, free.variance.data(), at(1, 20), 1e9);
  }
  EXPECT_EQ(free.cells[4], 255);
}

TEST(AdaptCells, MoveNoFasterThanAllowedAndKeepTheirVariance) {
  learner learns;
  learns.map.largest_step = 0.25;
  const auto residual = fettle::adapt(learns.map, learns.variance.data(), at(1, 20), 30.0);
  ASSERT_TRUE(residual);
  EXPECT_EQ(*residual, 20);
  EXPECT_NEAR(learns.exact(4), 10.25, 1e-4);
  EXPECT_EQ(learns.variance[4], 1);
}

TEST(AdaptCells, LeaveFrozenCellsAndLearnTheOthers) {
  learner learns;
  const std::array<std::uint8_t, 2> frozen{0b0001'0000, 0b1};  // cells 4 and 8
  learns.map.frozen = frozen.data();
  for (int k = 0; k < 50; ++k) ASSERT_TRUE(fettle::adapt(learns.map, learns.variance.data(), at(2, 30), 14.0));
  EXPECT_EQ(learns.cells[4], 60);
  EXPECT_EQ(learns.cells[8], 60);
  EXPECT_EQ(learns.variance[8], 1);
  EXPECT_GT(learns.cells[5], 60);
  EXPECT_GT(learns.cells[7], 60);
}

TEST(AdaptCells, LearnFromAVarianceThatIsNotFinite) {
  learner learns;
  learns.variance.fill(std::numeric_limits<double>::infinity());
  ASSERT_TRUE(fettle::adapt(learns.map, learns.variance.data(), at(1, 20), 11.0));
  EXPECT_EQ(learns.cells[4], 62);
}

TEST(AdaptCells, ChangeNothingForANumberThatIsNone) {
  for (const double bad : {std::nan(""), std::numeric_limits<double>::infinity()}) {
    learner learns;
    EXPECT_FALSE(fettle::adapt(learns.map, learns.variance.data(), at(1, 20), bad));
    EXPECT_FALSE(fettle::adapt(learns.map, learns.variance.data(), at(std::nan(""), 20), 11.0));
    learns.map.scaling.factor = 0;
    EXPECT_FALSE(fettle::adapt(learns.map, learns.variance.data(), at(1, 20), 11.0));
    for (std::size_t k = 0; k < 9; ++k) EXPECT_EQ(learns.cells[k], 60);
  }
}

}  // namespace adapt_cells_test

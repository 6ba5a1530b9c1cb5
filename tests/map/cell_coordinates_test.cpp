// SPDX-License-Identifier: MIT
#include "fettle/map/cell_coordinates.hpp"

#include <gtest/gtest.h>

#include <array>
#include <cstddef>
#include <vector>

#include "fettle/map/dynamic_table.hpp"
#include "fettle/map/table.hpp"

namespace cell_coordinates_test {

constexpr fettle::axis<double, 3> speed_rpm{{1000, 3000, 9000}};
constexpr fettle::axis<double, 2> pressure_kpa{{40, 100}};
constexpr fettle::table mass_mg{speed_rpm, pressure_kpa, {4, 20, 5, 24, 6, 22}};

static_assert(fettle::cell_indices(std::array<std::size_t, 2>{3, 2}, 3) == std::array<std::size_t, 2>{1, 1});
static_assert(fettle::cell_coordinates(mass_mg.view(), 4) == std::array{9000.0, 40.0});

TEST(CellCoordinates, NumberEveryCellOfRank3RowMajor) {
  const std::vector axes{*fettle::dynamic_axis<float>::from({1, 2}), *fettle::dynamic_axis<float>::from({10, 20, 30}),
                         *fettle::dynamic_axis<float>::from({100, 200, 300, 400})};
  std::size_t cell = 0;
  for (std::size_t i = 0; i < 2; ++i)
    for (std::size_t j = 0; j < 3; ++j)
      for (std::size_t k = 0; k < 4; ++k, ++cell) {
        EXPECT_EQ(fettle::cell_indices(std::array<std::size_t, 3>{2, 3, 4}, cell), (std::array{i, j, k}));
        EXPECT_EQ(fettle::cell_indices(axes, cell), (std::array{i, j, k}));
        EXPECT_EQ(fettle::cell_coordinates(axes, cell),
                  (std::vector{axes[0].points()[i], axes[1].points()[j], axes[2].points()[k]}));
      }
}

TEST(CellCoordinates, OfRankZeroAreNone) {
  const std::vector<fettle::dynamic_axis<double>> axes;
  EXPECT_TRUE(fettle::cell_coordinates(axes, 0).empty());
  EXPECT_EQ(fettle::cell_indices(axes, 0), (std::array<std::size_t, 3>{}));
}

}  // namespace cell_coordinates_test

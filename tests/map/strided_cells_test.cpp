// SPDX-License-Identifier: MIT
#include "fettle/map/strided_cells.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <vector>

#include "draws.hpp"
#include "fettle/map/cells.hpp"
#include "fettle/map/even_axis.hpp"
#include "fettle/map/integer.hpp"
#include "fettle/map/interpolate.hpp"
#include "fettle/map/raw_axis.hpp"

namespace strided_cells_test {

// By rows, by columns, and as one plane of a larger block, backwards: the same cells, the same value to the bit.
RC_GTEST_PROP(StridedCells, OfAnyOrderGiveWhatTheMapGives, ()) {
  const auto map = draws::table<double, 2>();
  const std::size_t rows = map.axes()[0].size(), columns = map.axes()[1].size();
  const double x = draws::coordinate(map.axes()[0]), y = draws::coordinate(map.axes()[1]);
  const double wanted = fettle::interpolate(map.view<2>(), x, y);
  const std::array at{search(map.axes()[0].view(), x), search(map.axes()[1].view(), y)};
  const std::array places{locate(map.axes()[0].view(), x), locate(map.axes()[1].view(), y)};
  std::vector<double> by_column(map.size()), woven(3 * map.size());
  for (std::size_t i = 0; i < rows; ++i)
    for (std::size_t j = 0; j < columns; ++j) {
      by_column[j * rows + i] = map.values()[i * columns + j];
      woven[3 * (map.size() - 1 - (i * columns + j)) + 1] = map.values()[i * columns + j];
    }
  const auto same = [&](double value) { return value == wanted || (std::isnan(value) && std::isnan(wanted)); };
  const auto columnwise = fettle::column_major<2>(by_column.data(), {rows, columns});
  const fettle::strided_cells<2, double> backwards{&woven[3 * (map.size() - 1) + 1],
                                                   {-3 * static_cast<std::ptrdiff_t>(columns), -3}};
  for (const auto& cells : {fettle::row_major<2>(map.values().data(), {rows, columns}), columnwise, backwards}) {
    RC_ASSERT(same(fettle::interpolate(cells, at)));
    RC_ASSERT(same(fettle::interpolate(cells, places)));
  }
}

constexpr std::array<std::uint16_t, 3> rpm{500, 2000, 8000};
constexpr std::array<std::int8_t, 4> degc{-40, 0, 40, 120};
constexpr std::array<std::uint8_t, 12> cells{10, 20, 30, 40, 15, 25, 35, 45, 100, 110, 120, 255};

// Cells of 8 bits over axes of 16 and 8 bits, read with numbers; by hand: halfway between rows 1 and 2, three quarters
// of the way between columns 2 and 3: (35 + 120) / 2 at 40 degC, (45 + 255) / 2 at 120.
TEST(StridedCells, TakeAxesOfOtherTypesThanTheirs) {
  const fettle::axis_view<std::uint16_t> speed{rpm.data(), rpm.size()};
  const fettle::axis_view<std::int8_t> coolant{degc.data(), degc.size()};
  const auto map = fettle::row_major<2>(cells.data(), {3, 4});
  EXPECT_FLOAT_EQ(fettle::interpolate(map, std::array{search(speed, 5000.0F), search(coolant, 100.0F)}),
                  0.25F * 77.5F + 0.75F * 150);
  EXPECT_FLOAT_EQ(fettle::interpolate(map, std::array{locate(speed, 1e9F), locate(coolant, -300.0F)}), 100);
  const auto last = locate(speed, 5000.0F);
  EXPECT_EQ(locate(speed, 5001.0F, last).fraction, locate(speed, 5001.0F).fraction);
  EXPECT_TRUE(std::isnan(fettle::interpolate(map, std::array{search(speed, std::nanf("")), search(coolant, 0.0F)})));
}

// The output of 8-bit cells is smooth: between two cells 10 apart a thousand points give a thousand values.
TEST(StridedCells, OfEightBitsGiveASmoothOutput) {
  const auto curve = fettle::row_major<1>(cells.data(), {12});
  const fettle::even_axis<float> axis = *fettle::even_axis<float>::from(0, 1000, 12);
  float before = -1;
  for (int x = 0; x < 1000; ++x) {
    const float value = fettle::interpolate(curve, std::array{search(axis, static_cast<float>(x))});
    EXPECT_GT(value, before);
    before = value;
  }
  std::uint32_t fine_before = 0;
  for (std::uint32_t f = 1; f < 65536; f += 64) {
    const auto fine = fettle::interpolate_fine(curve, std::array{fettle::integer_place{0, f}});
    EXPECT_GT(fine, fine_before);
    fine_before = fine;
  }
}

TEST(StridedCells, DoNotReadBeyondTheLastBreakpoint) {
  const std::array<float, 3> values{1, 2, 3};
  const auto curve = fettle::row_major<1>(values.data(), {3});
  EXPECT_EQ(fettle::interpolate(curve, std::array{fettle::cell_point<float>{2, 0}}), 3);
  EXPECT_EQ(fettle::interpolate(curve, std::array{fettle::place<float>{1, 1}}), 3);
}

constexpr fettle::cells<float, 2, 2> shared{{1, 2, 3, 4}};
static_assert(fettle::interpolate(shared, std::array{fettle::cell_point<float>{0, 0.5F},
                                                     fettle::cell_point<float>{0, 0.5F}}) == 2.5F);
static_assert(fettle::interpolate_each(std::array{fettle::cell_point<float>{1, 0}, fettle::cell_point<float>{1, 0}},
                                       shared, shared)[1] == 4);

}  // namespace strided_cells_test

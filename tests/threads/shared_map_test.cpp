// SPDX-License-Identifier: MIT
// Maps are shared without locks: queries keep no state. ThreadSanitizer watches this in `cmake/run.sh sanitize`.
#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <cstddef>
#include <thread>
#include <vector>

#include "fettle/map.hpp"
#include "fettle/map/dynamic_table.hpp"

namespace shared_map_test {

constexpr std::size_t threads = 8, points = 20'000;

/// A walk over the map and beyond its edges, another for every thread.
[[nodiscard]] std::array<std::vector<double>, 2> walk(std::size_t seed) {
  std::array<std::vector<double>, 2> at;
  for (std::size_t i = 0; i < points; ++i) {
    const double t = static_cast<double>(i + 7919 * seed);
    at[0].push_back(4500 + 5000 * std::sin(0.013 * t));
    at[1].push_back(50 + 60 * std::sin(0.0071 * t));
  }
  return at;
}

/// Every kind of look-up, point by point with a hint of the thread's own, and as a batch.
[[nodiscard]] std::vector<double> read_all(const fettle::map_view<2, double>& map,
                                           const std::array<std::vector<double>, 2>& at) {
  std::vector<double> out(points);
  fettle::interpolate_list(map, {at[0].data(), at[1].data()}, points, out.data());
  std::array<fettle::place<double>, 2> last{};
  for (std::size_t i = 0; i < points; ++i) {
    out.push_back(fettle::interpolate(map, last, at[0][i], at[1][i]));
    out.push_back(fettle::interpolate_with_slopes(map, at[0][i], at[1][i]).slope[1]);
    out.push_back(fettle::nearest(map, at[0][i], at[1][i]));
  }
  return out;
}

TEST(SharedMap, IsReadByManyThreadsAsByOne) {
  const auto speed_rpm = *fettle::dynamic_axis<double>::from({500, 1000, 2500, 3000, 7000, 9000});
  const auto throttle_pct = *fettle::dynamic_axis<double>::from({0, 5, 20, 60, 100});
  std::vector<double> cells(30);
  for (std::size_t i = 0; i < cells.size(); ++i) cells[i] = std::sin(static_cast<double>(i));
  const auto table = *fettle::dynamic_table<double>::from({speed_rpm, throttle_pct}, cells);
  const auto map = table.view<2>();

  std::vector<std::vector<double>> alone(threads), together(threads);
  for (std::size_t i = 0; i < threads; ++i) alone[i] = read_all(map, walk(i));
  std::vector<std::thread> team;
  for (std::size_t i = 0; i < threads; ++i) team.emplace_back([&, i] { together[i] = read_all(map, walk(i)); });
  for (auto& thread : team) thread.join();
  EXPECT_EQ(together, alone);
}

}  // namespace shared_map_test

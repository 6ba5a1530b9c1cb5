// SPDX-License-Identifier: MIT
// Logs are summed by many threads and the sums merged: the answer is the one of a single thread, to the last bit.
#include <gtest/gtest.h>

#include <Eigen/Dense>
#include <cmath>
#include <cstddef>
#include <span>
#include <thread>
#include <vector>

#include "fettle/fit/grid_evidence.hpp"
#include "fit/normal_matrix.hpp"

namespace merge_test {

constexpr std::size_t threads = 8, samples = 40'000;

const auto speed_rpm = *fettle::dynamic_axis<double>::from({500, 1000, 1500, 2500, 4000});
const auto load_pct = *fettle::dynamic_axis<double>::from({0, 10, 30, 100});

struct log {
  std::vector<double> speed_rpm, load_pct, value;
};

[[nodiscard]] log drive() {
  log result;
  for (std::size_t i = 0; i < samples; ++i) {
    const auto t = static_cast<double>(i);
    result.speed_rpm.push_back(2200 + 2000 * std::sin(0.003 * t));
    result.load_pct.push_back(50 + 55 * std::sin(0.0011 * t));
    result.value.push_back(std::sin(0.7 * t));
  }
  return result;
}

void add(fettle::grid_evidence& seen, const log& from, std::size_t begin, std::size_t end) {
  const auto part = [&](const std::vector<double>& x) { return std::span(x).subspan(begin, end - begin); };
  seen.add(part(from.speed_rpm), part(from.load_pct), part(from.value));
}

TEST(GridEvidence, SummedByManyThreadsIsThatOfOneToTheLastBit) {
  const log driven = drive();
  fettle::grid_evidence whole(speed_rpm, load_pct, 2);
  add(whole, driven, 0, samples);

  std::vector<fettle::grid_evidence> parts(threads, fettle::grid_evidence(speed_rpm, load_pct, 2));
  std::vector<std::thread> team;
  for (std::size_t i = 0; i < threads; ++i)
    team.emplace_back([&, i] { add(parts[i], driven, i * samples / threads, (i + 1) * samples / threads); });
  for (auto& thread : team) thread.join();
  for (std::size_t i = 1; i < threads; ++i) parts[0].merge(parts[i]);

  const auto expected = whole.to_evidence(), merged = parts[0].to_evidence();
  EXPECT_EQ(merged.samples(), expected.samples());
  EXPECT_EQ(merged.square(), expected.square());
  EXPECT_EQ(merged.moment(), expected.moment());
  EXPECT_EQ(normal_matrix(merged), normal_matrix(expected));
}

}  // namespace merge_test

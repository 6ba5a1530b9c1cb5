// SPDX-License-Identifier: MIT
#include "fettle/lambda/detail/share_work.hpp"

#include <gtest/gtest.h>

#include <atomic>
#include <cstddef>
#include <stdexcept>
#include <vector>

namespace share_work_test {

using fettle::detail::reduce;
using fettle::detail::share_work;

TEST(ShareWork, DoesEveryPieceOnceWithAnyNumberOfThreads) {
  for (const std::size_t threads : {0U, 1U, 3U, 50U})
    for (const std::size_t count : {0U, 1U, 2U, 1000U}) {
      std::vector<std::atomic<int>> done(count);
      share_work(threads, count, [&](std::size_t k) { ++done[k]; });
      for (const auto& times : done) EXPECT_EQ(times, 1) << threads << " threads, " << count << " pieces";
    }
}

TEST(ShareWork, ThrowsWhatAPieceThrows) {
  for (const std::size_t threads : {1U, 4U}) {
    const auto work = [](std::size_t k) {
      if (k == 7) throw std::invalid_argument("piece 7");
    };
    EXPECT_THROW(share_work(threads, 20, work), std::invalid_argument) << threads;
  }
}

struct sum_of_roundings {
  double value = 0;
  void merge(const sum_of_roundings& other) { value += other.value; }
};

TEST(Reduce, GivesTheSameSumToTheBitWithAnyNumberOfThreads) {
  const auto sum = [](std::size_t threads) {
    return reduce(threads, 1000, sum_of_roundings{},
                  [](sum_of_roundings& part, std::size_t k) { part.value += 1 / (0.3 + static_cast<double>(k)); })
        .value;
  };
  const double alone = sum(1);
  for (const std::size_t threads : {2U, 3U, 8U, 40U}) EXPECT_EQ(sum(threads), alone) << threads;
  EXPECT_EQ(reduce(4, 0, sum_of_roundings{5}, [](auto&, std::size_t) {}).value, 5);
}

}  // namespace share_work_test

// SPDX-License-Identifier: MIT
#include "fettle/lambda/lean_places.hpp"

#include <gtest/gtest.h>

#include <cstddef>
#include <vector>

namespace lean_places_test {

const auto coarse = *fettle::dynamic_table<double>::from(
    {*fettle::dynamic_axis<double>::from({1000, 5000}), *fettle::dynamic_axis<double>::from({0, 40, 100})},
    std::vector<double>(6, 20.0));

fettle::recording at(double rpm, double throttle_pct) {
  fettle::recording log;
  log.time_s = {0};
  log.at = {{rpm}, {throttle_pct}};
  return log;
}

/// Readings of one place, 10 a second.
void add(double rpm, double throttle_pct, double error, std::size_t count, fettle::forecast& destination) {
  const auto quarter = fettle::detail::quarters(at(rpm, throttle_pct), coarse).front();
  for (std::size_t i = 0; i < count; ++i) {
    destination.read_after.push_back(error);
    destination.read_step_s.push_back(0.1);
    destination.read_quarter.push_back(quarter);
  }
}

TEST(LeanPlaces, AreQuartersOfCellsWhoseReadingsStayLeanLongEnough) {
  fettle::forecast readings;
  add(2900, 35, 0.05, 30, readings);
  add(1100, 5, 0.01, 30, readings);
  add(4900, 90, 0.2, 5, readings);  // half a second
  const auto places = fettle::lean_places({readings}, coarse, 0.03);
  ASSERT_EQ(places.size(), 1U);
  EXPECT_EQ(places[0].at, (std::vector<double>{2000, 30}));
  EXPECT_EQ(places[0].lambda_error, 0.05);
  EXPECT_NEAR(places[0].seconds, 3, 1e-12);
}

TEST(LeanPlaces, TakeTheMedianOfAllLogsAndPutTheLeanestFirst) {
  fettle::forecast first, second;
  add(2900, 35, 0.04, 20, first);
  add(2900, 35, 0.9, 5, first);  // misfires
  add(2900, 35, 0.04, 20, second);
  add(4000, 80, 0.06, 20, second);
  const auto places = fettle::lean_places({first, second}, coarse, 0.03);
  ASSERT_EQ(places.size(), 2U);
  EXPECT_EQ(places[0].at, (std::vector<double>{4000, 85}));
  EXPECT_EQ(places[1].lambda_error, 0.04);
}

}  // namespace lean_places_test

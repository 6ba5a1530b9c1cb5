// SPDX-License-Identifier: MIT
#include "fettle/lambda/detail/noise_profile.hpp"

#include <gtest/gtest.h>

#include <random>
#include <utility>
#include <vector>

namespace noise_profile_test {

using fettle::detail::noise_profile;

TEST(NoiseProfile, GrowsWithLivelinessAsTheReadingsDo) {
  std::mt19937 random{1};
  std::normal_distribution<float> normal;
  std::uniform_real_distribution<float> lively{0, 1};
  std::vector<std::pair<float, float>> readings;
  for (int i = 0; i < 40000; ++i) {
    const float x = lively(random);
    readings.emplace_back(x, (0.005F + 0.02F * x) * normal(random));
  }
  const auto profile = noise_profile::from(readings);
  for (const double x : {0.1, 0.5, 0.9}) EXPECT_NEAR(profile.at(x), 0.005 + 0.02 * x, 0.001);
}

TEST(NoiseProfile, NeverFalls) {
  std::mt19937 random{2};
  std::normal_distribution<float> normal;
  std::vector<std::pair<float, float>> readings;
  for (int i = 0; i < 5000; ++i)
    readings.emplace_back(static_cast<float>(i), (i < 2500 ? 0.02F : 0.01F) * normal(random));
  const auto profile = noise_profile::from(readings);
  for (double x = 0; x < 5000; x += 100) EXPECT_GE(profile.at(x + 100), profile.at(x));
}

TEST(NoiseProfile, IsNotMovedByAFewReadingsFarOff) {
  std::mt19937 random{3};
  std::normal_distribution<float> normal;
  std::vector<std::pair<float, float>> readings;
  for (int i = 0; i < 5000; ++i)
    readings.emplace_back(0.0F + 1e-3F * static_cast<float>(i), i % 20 == 0 ? 0.5F : 0.01F * normal(random));
  EXPECT_NEAR(noise_profile::from(readings).at(2), 0.0106, 0.002);
}

}  // namespace noise_profile_test

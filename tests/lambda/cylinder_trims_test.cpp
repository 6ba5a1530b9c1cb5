// SPDX-License-Identifier: MIT
#include "fettle/lambda/cylinder_trims.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <random>
#include <string>
#include <vector>

#include "fettle/lambda/decide.hpp"
#include "fettle/lambda/evidence_of.hpp"
#include "lambda/virtual_cylinders.hpp"

namespace cylinder_trims_test {

using virtual_cylinders::estimated_trims;
using virtual_cylinders::rms_error;
using virtual_cylinders::rotated_runs;

// Sensor gains off by 1 to 3 %, cylinders by 3 to 4 %, noise 0.6 %, two sensors wired and three late; ten minutes.
TEST(CylindersOnVirtualEngine, TwoRunsOfFiveSensorsTellTrimsWithin0p3PercentRms) {
  for (const std::uint64_t seed : {1u, 2u}) {
    const auto runs = rotated_runs(seed, {{1, 2, 3, 4, 5}, {2, 3, 4, 5, 1}}, 5);
    const auto all = virtual_cylinders::identified(runs);
    const auto& trims = all.cylinders;
    EXPECT_TRUE(trims.separable.holds_for_every_trim());
    EXPECT_LT(rms_error(runs, trims), 0.003) << "seed " << seed;
    for (std::size_t j = 1; j <= 5; ++j)
      EXPECT_NEAR(all.gains[j].value, runs.engine.sensor[j].gain, 0.003) << "seed " << seed;
    for (std::size_t k = 0; k < trims.seconds.size(); ++k) {
      double sum = 0;
      for (const auto& trim : trims.correction) sum += trim[k];
      EXPECT_NEAR(sum, 5, 1e-12);
    }
  }
}

TEST(CylindersOnVirtualEngine, OneSensorAndTheCollectorTellFiveCylindersInFiveRuns) {
  const auto runs = rotated_runs(3, {{1}, {2}, {3}, {4}, {5}}, 2);
  const auto trims = estimated_trims(runs);
  EXPECT_TRUE(trims.separable.holds_for_every_trim());
  EXPECT_LT(rms_error(runs, trims), 0.003);
}

// Short runs are the hard case: few stretches of time that err independently. Noise of single readings counts in both ways
// of clustering, by time and by place, so that the ratio may well be 0.7.
TEST(CylindersOnVirtualEngine, StatedErrorsAreNoSmallerThanErrorsFromTheBestTrimMapAndNotTwiceThem) {
  double squares = 0, count = 0;
  for (const std::uint64_t seed : {1u, 2u, 3u}) {
    const auto runs = rotated_runs(seed, {{1}, {2}, {3}, {4}, {5}}, 2);
    const auto trims = estimated_trims(runs);
    const auto best = virtual_cylinders::best_trims(runs, trims.axes.front().points());
    for (std::size_t k = 0; k < trims.seconds.size(); ++k)
      for (std::size_t i = 0; trims.seconds[k] > 5 && i < 5; ++i) {
        squares += std::pow(std::log(trims.correction[i][k] / best[i][k]) / trims.standard_error[i][k], 2);
        ++count;
      }
  }
  EXPECT_GT(count, 60);
  EXPECT_LT(std::sqrt(squares / count), 1.25);
  EXPECT_GT(std::sqrt(squares / count), 0.6);
}

TEST(CylindersOnVirtualEngine, WithoutRotationAGainIsAPriorAndNotARefusal) {
  const auto runs = rotated_runs(1, {{1, 2, 3, 4, 5}}, 4);
  const auto trims = estimated_trims(runs);
  EXPECT_FALSE(trims.separable.holds_for_every_trim());
  ASSERT_EQ(trims.separable.remarks.size(), 5u);
  EXPECT_NE(trims.separable.remarks[3].find("gain of sensor pipe 4 and trim of cylinder 4 cannot be distinguished"),
            std::string::npos);
  for (const auto& errors : trims.standard_error)
    for (const double error : errors) EXPECT_GT(error, 0.008);  // it knows that it does not know
  double lean_before = 0,
         lean_after = 0;  // of the cylinders that need more, in squares over the speeds that were driven
  for (std::size_t i = 0; i < trims.correction.size(); ++i) {
    const auto decided = fettle::decide(fettle::evidence_of(trims, i), {.richer = 0.05, .leaner = 0.03});
    for (std::size_t k = 0; k < decided.applied.size(); ++k) {
      if (!(trims.passes[i][k] > 0)) continue;
      const double needed = std::log(runs.engine.air_factors(trims.axes[0].points()[k])[i]);
      lean_before += std::pow(std::max(needed, 0.0), 2);
      lean_after += std::pow(std::max(needed - std::log(decided.applied[k]), 0.0), 2);
    }
  }
  EXPECT_LT(lean_after, 0.5 * lean_before);
}

TEST(CylindersOnVirtualEngine, ASensorThatDiesOrRailsForPartOfARunIsUsedForTheRest) {
  auto runs = rotated_runs(2, {{1, 2, 3, 4, 5}, {2, 3, 4, 5, 1}}, 2);
  auto& dead = runs.logs[0].sensors[1].lambda;
  const std::size_t half = dead.size() / 2;
  for (std::size_t i = half; i < dead.size(); ++i) dead[i] = 0.97;
  auto& railed = runs.logs[1].sensors[2];
  for (std::size_t i = 0; i < half; ++i) railed.lambda[i] = 1.6;
  const auto trims = estimated_trims(runs);
  EXPECT_GT(trims.rejected[0][1][fettle::rejection::stuck], half * 9 / 10);
  EXPECT_GE(trims.rejected[1][2][fettle::rejection::stood_at_lean_end], half * 9 / 10);
  EXPECT_GT(trims.rejected[0][1][fettle::rejection::none], half / 2);
  EXPECT_TRUE(trims.separable.holds_for_every_trim());
  EXPECT_LT(rms_error(runs, trims), 0.003);
}

TEST(CylindersOnVirtualEngine, ASensorDeadForAWholeRunIsListedAndWhatItLeavesOpenIsSaid) {
  auto runs = rotated_runs(2, {{1, 2, 3, 4, 5}, {2, 3, 4, 5, 1}}, 1);
  for (double& lambda : runs.logs[1].sensors[1].lambda) lambda = std::nan("");
  for (double& lambda : runs.logs[0].sensors[2].lambda) lambda = std::nan("");
  const auto trims = estimated_trims(runs);
  ASSERT_EQ(trims.unused.size(), 2u);
  EXPECT_EQ(trims.unused[0].sensor, 2u);
  EXPECT_EQ(trims.unused[1].run, 1u);
  EXPECT_FALSE(trims.separable.trim[0] && trims.separable.trim[1] && trims.separable.trim[2]);
  EXPECT_FALSE(trims.separable.remarks.empty());
}

// A sensor that reads anything at all scatters by itself; its neighbours do not.
TEST(CylindersOnVirtualEngine, ASensorOfNoiseIsKnownByItsScatter) {
  auto runs = rotated_runs(2, {{1, 2, 3, 4, 5}}, 0.7);
  std::mt19937 dice(1);
  for (double& lambda : runs.logs[0].sensors[1].lambda) lambda = std::uniform_real_distribution(0.7, 1.5)(dice);
  const auto identified = virtual_cylinders::identified(runs);
  ASSERT_EQ(identified.scatter.size(), runs.logs[0].sensors.size());
  for (std::size_t s = 0; s < identified.scatter.size(); ++s)
    if (s == 1)
      EXPECT_GT(identified.scatter[s].noise, 0.1);
    else
      EXPECT_LT(identified.scatter[s].noise, 0.02) << s;
}

template <class Change>
std::string refusal(Change&& change) {
  auto runs = rotated_runs(1, {{1, 2, 3, 4, 5}}, 0.2);
  auto options = virtual_cylinders::speed_options();
  change(runs, options);
  try {
    (void)fettle::identify(runs.logs, runs.base, runs.with, options);
  } catch (const fettle::error& problem) {
    return problem.what();
  }
  return "no refusal";
}

TEST(Cylinders, RefuseWhatDoesNotFitByName) {
  const auto expect = [](const std::string& words, auto&& change) {
    const std::string message = refusal(change);
    EXPECT_NE(message.find(words), std::string::npos) << message;
  };
  expect("there is no log", [](auto& runs, auto&) { runs.logs.clear(); });
  expect("sensor pipe 2 sees cylinder 9 of an engine with 5",
         [](auto& runs, auto&) { runs.logs[0].sensors[2].cylinders = {9}; });
  expect("sensor pipe 2 sees cylinder 4 twice", [](auto& runs, auto&) {
    runs.logs[0].sensors[2].cylinders = {4, 1, 4};
  });
  expect("sensor pipe 2 is passed by a share of 0.000000 of the exhaust",
         [](auto& runs, auto&) { runs.logs[0].sensors[2].flow_share = 0; });
  expect("another number of sensors", [](auto& runs, auto&) { runs.logs[0].sensors.pop_back(); });
  expect("which coordinate it reads", [](auto&, auto& options) { options.trims.along.clear(); });
  expect("reads coordinate 7", [](auto&, auto& options) { options.trims.along = {7}; });
  expect("it must lie between its bounds",
         [](auto& runs, auto&) { runs.with.sensors[1].latency_s = fettle::parameter::held("latency", -0.05); });
  expect("no sensor has 100 readings", [](auto& runs, auto&) {
    for (auto& sensor : runs.logs[0].sensors)
      for (double& lambda : sensor.lambda) lambda = std::nan("");
  });
}

TEST(Cylinders, ATrimOfRank0IsOneNumberPerCylinder) {
  const auto runs = rotated_runs(1, {{1, 2, 3, 4, 5}, {2, 3, 4, 5, 1}}, 1);
  auto options = virtual_cylinders::speed_options();
  options.trims = {.axes = {}, .along = {}, .is_given = true};
  const auto trims = estimated_trims(runs, options);
  ASSERT_EQ(trims.correction[0].size(), 1u);
  double mean = 0;
  for (const double rpm : {3000.0, 4000.0, 5000.0, 6000.0}) mean += runs.engine.air_factors(rpm)[0] / 4;
  EXPECT_NEAR(trims.correction[0][0], mean, 0.01);
}

}  // namespace cylinder_trims_test

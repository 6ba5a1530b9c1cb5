// SPDX-License-Identifier: MIT
#include "fettle/lambda/rotation.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <algorithm>
#include <cstddef>
#include <string>
#include <vector>

namespace rotation_test {

using fettle::rotation;
using fettle::separate;

/// Entry [run][sensor]: the cylinder, 0: after the collector. Sensors in pipes are not calibrated.
rotation rotation_of(std::size_t cylinders, const std::vector<std::vector<std::size_t>>& runs, bool collector) {
  rotation result{.cylinders = cylinders, .runs = runs.size(), .sensors = {}, .stays = {}};
  for (std::size_t j = 0; j < runs[0].size(); ++j) result.sensors.push_back({"pipe " + std::to_string(j + 1)});
  if (collector) result.sensors.push_back({"collector", true});
  for (std::size_t r = 0; r < runs.size(); ++r) {
    for (std::size_t j = 0; j < runs[r].size(); ++j) result.stays.push_back({r, j, {runs[r][j]}});
    if (collector) result.stays.push_back({r, runs[0].size(), {}});
  }
  return result;
}

template <class Action>
std::string refusal(Action&& action) {
  try {
    action();
  } catch (const fettle::error& problem) {
    return problem.what();
  }
  return "no refusal";
}

TEST(Rotation, NamesEveryPairThatWasNeverMoved) {
  const auto separable = separate(rotation_of(5, {{1, 2, 3, 4, 5}}, true));
  EXPECT_FALSE(separable.holds_for_every_trim());
  ASSERT_EQ(separable.remarks.size(), 5u);
  EXPECT_EQ(
      separable.remarks[1],
      "gain of sensor pipe 2 and trim of cylinder 2 cannot be distinguished: it was never moved to another cylinder");
}

TEST(Rotation, MovingAllOnByOnePipeOnceTellsEverything) {
  const auto separable = separate(rotation_of(5, {{1, 2, 3, 4, 5}, {2, 3, 4, 5, 1}}, true));
  EXPECT_TRUE(separable.holds_for_every_trim());
  EXPECT_TRUE(separable.remarks.empty());
  for (const bool gain : separable.gain) EXPECT_TRUE(gain);
}

TEST(Rotation, WithoutAReferenceTrimsAreToldButNotTheMeanGain) {
  const auto separable = separate(rotation_of(5, {{1, 2, 3, 4, 5}, {2, 3, 4, 5, 1}}, false));
  EXPECT_TRUE(separable.holds_for_every_trim());
  EXPECT_FALSE(separable.gain[0]);
  ASSERT_EQ(separable.remarks.size(), 1u);
  EXPECT_NE(separable.remarks[0].find("no sensor is calibrated"), std::string::npos);
}

TEST(Rotation, SwapsAmongTwoCylindersLeaveThemApartFromTheRest) {
  const auto separable = separate(rotation_of(5, {{1, 2, 3, 4, 5}, {2, 1, 4, 5, 3}}, true));
  EXPECT_FALSE(separable.holds_for_every_trim());
  ASSERT_EQ(separable.remarks.size(), 2u);
  EXPECT_EQ(
      separable.remarks[0],
      "trims of cylinders 1 and 2 and gains of sensors pipe 1 and pipe 2 cannot be distinguished from the rest: they "
      "were moved among themselves only");
}

TEST(Rotation, ACalibratedSensorInEveryPipeNeedsNoMove) {
  auto design = rotation_of(4, {{1, 2, 3, 4}}, false);
  for (auto& sensor : design.sensors) sensor.is_calibrated = true;
  EXPECT_TRUE(separate(design).holds_for_every_trim());
}

TEST(Rotation, AllButOneCalibratedSensorAndTheCollectorTellTheLastCylinder) {
  auto design = rotation_of(3, {{1, 2}}, true);
  design.sensors[0].is_calibrated = design.sensors[1].is_calibrated = true;
  EXPECT_TRUE(separate(design).holds_for_every_trim());  // trims sum to zero
  design.stays.pop_back();
  const auto separable = separate(design);
  EXPECT_FALSE(separable.trim[2]);
  EXPECT_NE(separable.remarks[0].find("cannot be distinguished"), std::string::npos);
}

TEST(Rotation, RefusesPlacesThatDoNotExist) {
  EXPECT_NE(refusal([] {
              (void)separate(rotation_of(4, {{1, 6}}, true));
            }).find("cylinder 6 of an engine with 4"),
            std::string::npos);
  auto twice = rotation_of(4, {{1, 2}}, true);
  twice.stays.push_back({0, 1, {3}});
  EXPECT_NE(refusal([&] { (void)separate(twice); }).find("pipe 2 is in two places in run 1"), std::string::npos);
  auto no_sensor = rotation_of(4, {{1, 2}}, true);
  no_sensor.stays.push_back({0, 9, {3}});
  EXPECT_NE(refusal([&] { (void)separate(no_sensor); }).find("sensor number 10 does not exist"), std::string::npos);
}

TEST(RotationPlan, FiveSensorsOnFiveCylindersNeedTwoRuns) {
  EXPECT_EQ(fettle::plan_rotation(5, 5, true),
            (std::vector<std::vector<std::size_t>>{{1, 2, 3, 4, 5}, {2, 3, 4, 5, 1}}));
  EXPECT_EQ(fettle::plan_rotation(5, 5, false).size(), 2u);
}

// A plan that tells everything, and no other arrangement of fewer runs that would: all of them are tried.
bool some_arrangement_tells(std::size_t sensors, std::size_t cylinders, std::size_t runs, bool collector) {
  std::vector<std::vector<std::size_t>> arrangements;  // of one run: sensors in different pipes
  const auto extend = [&](const auto& self, std::vector<std::size_t> seats) -> void {
    if (seats.size() == sensors) {
      arrangements.push_back(seats);
      return;
    }
    for (std::size_t c = 1; c <= cylinders; ++c) {
      if (std::find(seats.begin(), seats.end(), c) != seats.end()) continue;
      seats.push_back(c);
      self(self, seats);
      seats.pop_back();
    }
  };
  extend(extend, {});
  std::vector<std::size_t> pick(runs, 0);
  while (true) {
    std::vector<std::vector<std::size_t>> tried;
    for (const std::size_t p : pick) tried.push_back(arrangements[p]);
    if (separate(rotation_of(cylinders, tried, collector)).holds_for_every_trim()) return true;
    std::size_t r = 1;  // by symmetry the first run may stay as it is
    while (r < runs && ++pick[r] == arrangements.size()) pick[r++] = 0;
    if (r >= runs) return false;
  }
}

TEST(RotationPlan, IsFullRankAndNoArrangementOfFewerRunsIs) {
  for (std::size_t cylinders = 2; cylinders <= 4; ++cylinders)
    for (std::size_t sensors = 1; sensors <= cylinders; ++sensors)
      for (const bool collector : {true, false}) {
        if (sensors == 1 && !collector) continue;
        const auto plan = fettle::plan_rotation(sensors, cylinders, collector);
        EXPECT_TRUE(separate(rotation_of(cylinders, plan, collector)).holds_for_every_trim())
            << sensors << " sensors, " << cylinders << " cylinders, collector " << collector;
        if (plan.size() == 1) continue;
        EXPECT_FALSE(some_arrangement_tells(sensors, cylinders, plan.size() - 1, collector))
            << sensors << " sensors, " << cylinders << " cylinders, collector " << collector;
      }
}

RC_GTEST_PROP(RotationPlan, TellsEveryTrimOfAnyEngine, ()) {
  const auto cylinders = *rc::gen::inRange<std::size_t>(2, 13);
  const bool collector = *rc::gen::arbitrary<bool>();
  const auto sensors = *rc::gen::inRange<std::size_t>(collector ? 1 : 2, cylinders + 1);
  const auto plan = fettle::plan_rotation(sensors, cylinders, collector);
  RC_ASSERT(separate(rotation_of(cylinders, plan, collector)).holds_for_every_trim());
}

TEST(RotationPlan, SaysWhenNoNumberOfRunsWouldDo) {
  EXPECT_NE(refusal([] { (void)fettle::plan_rotation(1, 5, false); }).find("add a sensor"), std::string::npos);
  EXPECT_NE(refusal([] { (void)fettle::plan_rotation(6, 5, true); }).find("6 sensors for 5 cylinders"),
            std::string::npos);
  EXPECT_NE(refusal([] { (void)fettle::plan_rotation(0, 5, true); }).find("at least one sensor"), std::string::npos);
  EXPECT_EQ(fettle::plan_rotation(16, 16, true).size(), 2u);
  EXPECT_NE(refusal([] { (void)fettle::plan_rotation(16, 17, true); }).find("up to 16 cylinders"), std::string::npos);
}

}  // namespace rotation_test

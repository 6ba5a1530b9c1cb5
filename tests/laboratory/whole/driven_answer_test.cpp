// SPDX-License-Identifier: MIT
// What the pictures that drive the invented car show is true: each answer is held to a law of its subject.
#include "laboratory/driven_answer.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cstddef>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

namespace {

using nlohmann::json;

json ask(const std::string& picture, const json& question) {
  return json::parse(laboratory::driven_answer(picture, question.dump()));
}

json evidence_after(double minutes, double margin_errors) {
  return ask("evidence", {{"seed", 1}, {"minutes", minutes}, {"margin_errors", margin_errors}});
}

TEST(LaboratoryEvidence, MoreDrivingLeavesFewerCellsUndrivenAndLessUncertainty) {
  const json early = evidence_after(1, 1), late = evidence_after(6, 1);
  EXPECT_LT(late["cells"]["not_driven"], early["cells"]["not_driven"]);
  EXPECT_GT(late["rows"], early["rows"]);
  const auto mean = [](const json& list) {
    double sum = 0;
    for (const double value : list) sum += value;
    return sum / static_cast<double>(list.size());
  };
  EXPECT_LT(mean(late["error_pct"]), mean(early["error_pct"]));
}

TEST(LaboratoryEvidence, AWiderMarginLeansLessAndEnrichesTheSame) {
  const auto narrow = evidence_after(4, 0.5)["applied_pct"].get<std::vector<double>>(),
             wide = evidence_after(4, 2.5)["applied_pct"].get<std::vector<double>>();
  std::size_t leaned_less = 0;
  for (std::size_t k = 0; k < narrow.size(); ++k) {
    EXPECT_GE(wide[k], std::min(narrow[k], 0.0));
    if (narrow[k] > 0) {
      EXPECT_EQ(wide[k], narrow[k]);
    }
    leaned_less += narrow[k] < 0 && wide[k] > narrow[k];
  }
  EXPECT_GT(leaned_less, 20U);
}

TEST(LaboratoryThreeWays, IdentificationLeavesAFractionOfWhatAveragesInCellsLeave) {
  const json at = ask("three_ways", {{"seed", 1}, {"delay_s", 0.15}, {"factor", 1.2}});
  EXPECT_LT(at["identified"]["rms_pct"].get<double>(), 0.4 * at["delayed"]["rms_pct"].get<double>());
  EXPECT_LT(at["delayed"]["rms_pct"], at["at_once"]["rms_pct"]);
}

TEST(LaboratoryThreeWays, NoFixedDelayDoesAsWell) {
  for (const double delay_s : {0.05, 0.1, 0.2, 0.3, 0.4}) {
    const json at = ask("three_ways", {{"seed", 1}, {"delay_s", delay_s}, {"factor", 1.2}});
    EXPECT_LT(at["identified"]["rms_pct"], at["delayed"]["rms_pct"]) << delay_s << " s";
  }
}

json after_passes(int passes, double leaner_pct, bool follows_plan) {
  return ask("passes", {{"seed", 1},
                        {"passes", passes},
                        {"richer_pct", 15},
                        {"leaner_pct", leaner_pct},
                        {"follows_plan", follows_plan}});
}

TEST(LaboratoryPasses, EachPassLeavesLessErrorAndNoneExceedsItsAuthority) {
  const json chain = after_passes(4, 5, true);
  ASSERT_EQ(chain["passes"].size(), 5U);
  for (std::size_t i = 1; i < 5; ++i) {
    EXPECT_LT(chain["passes"][i]["rms_pct"], chain["passes"][i - 1]["rms_pct"]);
    for (const double applied : chain["passes"][i]["applied_pct"]) {
      EXPECT_LE(applied, 15 + 1e-9);
      EXPECT_GE(applied, -5 - 1e-9);
    }
  }
}

TEST(LaboratoryPasses, ThePlanLowersTheUncertaintyFasterThanOrdinaryDrives) {
  const json planned = after_passes(4, 5, true), ordinary = after_passes(4, 5, false);
  EXPECT_LT(planned["passes"][4]["error_pct"].get<double>(), 0.8 * ordinary["passes"][4]["error_pct"].get<double>());
}

TEST(LaboratoryPasses, AddedOneByOneAreThoseMadeAtOnce) {
  const json at_once = after_passes(2, 4, true);
  (void)after_passes(1, 4, true);
  EXPECT_EQ(after_passes(2, 4, true), at_once);
}

}  // namespace

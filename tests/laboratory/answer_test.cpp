// SPDX-License-Identifier: MIT
// What the pictures of the laboratory show is true: each answer is held to a law of its subject.
#include "laboratory/answer.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <nlohmann/json.hpp>
#include <string>

namespace {

using nlohmann::json;

json ask(const std::string& picture, const json& question) {
  return json::parse(laboratory::answer(picture, question.dump()));
}

TEST(LaboratoryAnswer, OfAnUnknownPictureNamesIt) {
  EXPECT_EQ(ask("mirror", {})["error"], "there is no picture \"mirror\"");
}

TEST(LaboratoryAnswer, ToAQuestionWithoutANumberNamesWhatIsMissing) {
  EXPECT_NE(ask("look_up", {{"speed_rpm", 3000}})["error"].get<std::string>().find("throttle_pct"), std::string::npos);
}

TEST(LaboratoryLookUp, IsTheSumOfItsFourCellsByTheirWeights) {
  const json answer = ask("look_up", {{"speed_rpm", 3100}, {"throttle_pct", 35}, {"outside", "hold"}});
  double sum = 0, weights = 0;
  for (const json& cell : answer["cells"]) {
    sum += cell["weight"].get<double>() * cell["fuel_mg"].get<double>();
    weights += cell["weight"].get<double>();
  }
  EXPECT_NEAR(weights, 1, 1e-15);
  EXPECT_NEAR(answer["value_mg"], sum, 1e-13);
}

TEST(LaboratoryLookUp, BeyondTheMapHoldsGoesOnOrRefusesAsAsked) {
  const auto at = [](double rpm, const char* rule) {
    return ask("look_up", {{"speed_rpm", rpm}, {"throttle_pct", 100}, {"outside", rule}})["value_mg"];
  };
  EXPECT_EQ(at(9100, "hold"), 38.2);
  EXPECT_NEAR(at(9100, "extend"), 38.2 + 0.4 * (38.2 - 41.0), 1e-12);
  EXPECT_TRUE(at(9100, "refuse").is_null());
  EXPECT_EQ(at(8500, "refuse"), 38.2);
}

json smoothing_question(int seed, const json& log10_strength) {
  return {{"seed", seed}, {"count", 80}, {"noise_mg", 1}, {"log10_strength", log10_strength}};
}

TEST(LaboratorySmoothing, NoStrengthScoresBetterThanTheOneOfReml) {
  const json answer = ask("smoothing", smoothing_question(7, nullptr));
  for (const double score : answer["score"]) EXPECT_GE(score, -1e-6);
  EXPECT_EQ(answer["strength"], answer["chosen_strength"]);
}

TEST(LaboratorySmoothing, The95PercentBandHoldsTheTruthAsOftenAsItSays) {
  double inside = 0;
  for (int seed = 1; seed <= 60; ++seed)
    inside += ask("smoothing", smoothing_question(seed, nullptr))["inside_95"].get<double>() / 60;
  // 60 draws of about 9 independent numbers each: one standard deviation of the share is 0.9 %
  EXPECT_GT(inside, 0.92);
  EXPECT_LT(inside, 0.98);
}

TEST(LaboratoryTipIn, GasArrivesAfterRevolutionsAndThePipesMassAtTheNewFlow) {
  const json answer = ask("tip_in", {{"speed_rpm", 2500}, {"revolutions", 1.5}, {"pipe_gas_mass_g", 3}, {"lag_s", 0}});
  // five cylinders of fuel (1 + 14.3) mg each, every second revolution
  const double flow_g_s = 5 * 35.0 * 15.3 / 1000 * 2500 / 120;
  EXPECT_GT(answer["delay_open_s"], 1.5 * 60 / 2500 + 3 / (1.05 * flow_g_s));
  EXPECT_LT(answer["delay_open_s"], answer["delay_shut_s"]);
  const double took_s = answer["arrives_s"].get<double>() - answer["opens_s"].get<double>();
  EXPECT_NEAR(took_s, answer["delay_open_s"], 0.003);  // rows are 2.5 ms apart, and the flow changes within one
}

TEST(LaboratoryTipIn, TheLastParcelIsTheGasAtTheSensor) {
  const json answer =
      ask("tip_in", {{"speed_rpm", 2500}, {"revolutions", 1.5}, {"pipe_gas_mass_g", 3}, {"lag_s", 0.06}});
  const std::size_t step = answer["parcel_step"];
  const json& last = answer["parcels"].back();
  for (std::size_t k = 0; k < last.size(); ++k) EXPECT_EQ(last[k], answer["lambda_at_sensor"][k * step]);
}

json film(double deposited, double evaporation_ms) {
  return {{"deposited", deposited}, {"evaporation_ms", evaporation_ms}};
}

TEST(LaboratoryWallFilm, IsCompensatedExactlyWhenItIsKnown) {
  const json answer =
      ask("wall_film",
          {{"speed_rpm", 3000}, {"film", film(0.25, 250)}, {"assumed", film(0.25, 250)}, {"is_compensated", true}});
  for (const double lambda : answer["lambda"]) EXPECT_NEAR(lambda, 1, 1e-12);
}

TEST(LaboratoryWallFilm, KeepsEveryMilligram) {
  const json answer =
      ask("wall_film",
          {{"speed_rpm", 3000}, {"film", film(0.25, 250)}, {"assumed", film(0.2, 200)}, {"is_compensated", true}});
  for (std::size_t k = 1; k < answer["time_s"].size(); ++k)
    EXPECT_NEAR(answer["injected_mg"][k].get<double>() - answer["cylinder_mg"][k].get<double>(),
                answer["film_mg"][k].get<double>() - answer["film_mg"][k - 1].get<double>(), 1e-12);
}

TEST(LaboratoryTwoBanks, KnownFilmsLeaveNothingAndTheBlendKeepsToItsAimOtherwise) {
  const auto excursion = [](double error) {
    return ask("two_banks",
               {{"speed_rpm", 6000}, {"film_error", error}, {"allowed_error", 0.15}, {"excursion", 0.015}});
  };
  EXPECT_NEAR(excursion(0)["compensated"]["excursion"], 0, 1e-12);
  EXPECT_GT(excursion(0)["at_once"]["excursion"], 0.08);
  for (const double error : {-0.12, 0.12})
    EXPECT_LT(excursion(error)["compensated"]["excursion"], excursion(error)["blended"]["excursion"]);
}

json collector_question(double speed_rpm) {
  return {{"speed_rpm", speed_rpm},
          {"lag_s", 0.008},
          {"noise", 0.006},
          {"cycles", 200},
          {"lambda", {0.97, 1.02, 0.96, 1.01, 1.04}}};
}

TEST(LaboratoryCollector, EstimatesEachCylinderWithinFourStandardErrors) {
  const json answer = ask("collector", collector_question(3000));
  for (std::size_t i = 0; i < 5; ++i)
    EXPECT_NEAR(answer["estimate"][i], collector_question(0)["lambda"][i].get<double>(),
                4 * answer["standard_error"].get<double>());
}

TEST(LaboratoryCollector, RefusesAboveTheSpeedItNames) {
  const double highest = ask("collector", collector_question(3000))["highest_rpm"];
  EXPECT_TRUE(ask("collector", collector_question(highest - 1))["refusal"].is_null());
  EXPECT_FALSE(ask("collector", collector_question(highest + 2))["refusal"].is_null());
}

TEST(LaboratoryRotation, EveryTrimIsIdentifiableOnceThePlanIsDriven) {
  const json answer = ask("rotation", {{"sensors", 2}, {"runs", 5}, {"has_collector", true}});
  EXPECT_EQ(answer["trim"], json({true, true, true, true, true}));
  const json first = ask("rotation", {{"sensors", 2}, {"runs", 1}, {"has_collector", true}});
  EXPECT_EQ(first["trim"], json({false, false, false, false, false}));
}

TEST(LaboratoryIntegerCells, AreWithinOneStepWhereNothingIsClipped) {
  for (const int bits : {8, 16}) {
    const json answer =
        ask("integer_cells",
            {{"bits", bits}, {"lowest_mg", 0}, {"highest_mg", 64}, {"speed_rpm", 7000}, {"last_pct", 100}});
    EXPECT_EQ(answer["clipped_cells"], 0);
    EXPECT_EQ(answer["bytes"], 30 * bits / 8);
    for (std::size_t k = 0; k < answer["exact_mg"].size(); ++k)
      EXPECT_NEAR(answer["integer_mg"][k], answer["exact_mg"][k].get<double>(), 1.51 * answer["unit_mg"].get<double>());
  }
}

TEST(LaboratoryIntegerCells, RefuseASpanThatIsNone) {
  const json answer = ask("integer_cells",
                          {{"bits", 8}, {"lowest_mg", 64}, {"highest_mg", 64}, {"speed_rpm", 7000}, {"last_pct", 100}});
  EXPECT_EQ(answer["error"],
            "integer cells: the highest value must lie above the lowest; give a span of more than 0 mg");
}

TEST(LaboratoryGlossary, IsInOrderOfTheAlphabetAndSaysEachWordOnce) {
  std::string before;
  for (const json& word : ask("glossary", json::object())["words"]) {
    std::string term = word["term"];
    for (char& letter : term) letter = static_cast<char>(std::tolower(static_cast<unsigned char>(letter)));
    EXPECT_LT(before, term);
    before = term;
    EXPECT_EQ(word["meaning"].get<std::string>().back(), '.');
  }
}

}  // namespace

// SPDX-License-Identifier: MIT
// The loop as a tuner runs it: drive, correct, load, drive where the plan says, compare, on the virtual engine.
#include <gtest/gtest.h>

#include <cmath>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <nlohmann/json.hpp>
#include <string>
#include <tuple>
#include <utility>

#include "fettle/io/map_csv.hpp"
#include "io/scratch.hpp"

namespace passes_program_test {

namespace fs = std::filesystem;

std::string bytes(const fs::path& path) {
  std::ifstream file(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(file), {}};
}

class Passes : public testing::Test {
 protected:
  [[nodiscard]] fs::path at(const std::string& name) const { return folder_.file(name); }

  int run(const std::string& program, const std::string& words) const {
    const std::string command =
        "\"" + program + "\" " + words + " > \"" + at("said").string() + "\" 2> \"" + at("complained").string() + "\"";
    const int status = std::system(command.c_str());
    return status == 0 ? 0 : (status >> 8);
  }
  int drive(const std::string& words) const { return run(VIRTUAL_ENGINE_PROGRAM, words); }
  int correct(const std::string& session, const std::string& out) const {
    return run(CORRECT_MAP_PROGRAM, at(session).string() + " --out " + at(out).string());
  }

 private:
  scratch::folder folder_;
};

/// rms of the logarithm of a map over the truth, over the cells where the first log ran for more than a second.
double rms_over_truth(const fs::path& map_path, const fs::path& truth_path, const fs::path& seconds_path) {
  const auto map = fettle::read_map_csv(map_path), truth = fettle::read_map_csv(truth_path),
             seconds = fettle::read_map_csv(seconds_path);
  double squares = 0, count = 0;
  for (std::size_t k = 0; k < map.table.size(); ++k) {
    if (!(seconds.table.values()[k] > 1)) continue;
    squares += std::pow(std::log(map.table.values()[k] / truth.table.values()[k]), 2);
    ++count;
  }
  return std::sqrt(squares / count);
}

TEST_F(Passes, EachCorrectionIsDrivenComparedAndNoWorse) {
  ASSERT_EQ(drive("--drive stage --minutes 3 --out " + at("first").string()), 0) << bytes(at("complained"));
  ASSERT_EQ(correct("first/session.json", "corrected"), 0) << bytes(at("complained"));
  ASSERT_EQ(drive("--session " + at("corrected/session.json").string() + " --drive plan --minutes 2 --out " +
                  at("second").string()),
            0)
      << bytes(at("complained"));
  const auto session = nlohmann::json::parse(bytes(at("second/session.json")));
  ASSERT_EQ(session.at("logs").size(), 2U);
  EXPECT_TRUE(fs::equivalent(at("second") / session.at("logs").at(0).at("file").get<std::string>(),
                             at("first/stage.csv")));  // the earlier log stays
  EXPECT_TRUE(fs::equivalent(at("second") / session.at("logs").at(0).at("map").at("file").get<std::string>(),
                             at("first/fuel_map.csv")));  // with the map it was driven on
  EXPECT_TRUE(fs::equivalent(at("second") / session.at("map").at("file").get<std::string>(),
                             at("corrected/corrected_map.csv")));
  EXPECT_EQ(session.at("logs").at(1).at("file"), "plan.csv");

  ASSERT_EQ(run(COMPARE_PASSES_PROGRAM, at("first/session.json").string() + " " + at("second/session.json").string() +
                                            " --out " + at("compared").string()),
            0)
      << bytes(at("complained"));
  const auto step = nlohmann::json::parse(bytes(at("compared/summary.json"))).at("steps").at(0);
  EXPECT_GE(step.at("cells_compared"), 5);
  EXPECT_LT(step.at("rms_pct").at("shown"), step.at("rms_pct").at("before"));
  EXPECT_NE(bytes(at("said")).find("Safe:"), std::string::npos);
  EXPECT_NE(bytes(at("compared/report.html")).find("Needed before the first correction"), std::string::npos);

  ASSERT_EQ(correct("second/session.json", "again"), 0) << bytes(at("complained"));
  // A drive by the plan does not say how the car is used: later plans go by the first drive.
  const auto after = nlohmann::json::parse(bytes(at("again/session.json")));
  EXPECT_TRUE(
      fs::equivalent(at("again") / after.at("usage_map").at("file").get<std::string>(), at("corrected/usage.csv")));
  EXPECT_FALSE(fs::exists(at("again/usage.csv")));
  const auto error = [&](const char* map) {
    return rms_over_truth(at(map), at("first/truth/fuel_map.csv"), at("corrected/seconds.csv"));
  };
  EXPECT_LT(error("corrected/corrected_map.csv"), error("first/fuel_map.csv"));
  EXPECT_LT(error("again/corrected_map.csv"), error("corrected/corrected_map.csv"));
}

TEST_F(Passes, SessionsOfTwoEnginesOrTwoGridsAreNotCompared) {
  ASSERT_EQ(drive("--minutes 0.2 --out " + at("first").string()), 0);
  const auto session = nlohmann::json::parse(bytes(at("first/session.json")));
  std::ofstream(at("first/small.csv")) << "rpm/throttle_pct,0,100\n1000,10,20\n9000,10,20\n";
  for (const auto& [place, value, says] :
       {std::tuple{"/virtual_engine/seed", nlohmann::json(2), "are about two virtual engines"},
        {"/engine/displacement_l", 2.2, "are about two engines, of 5 cylinders and 2.5 l and of 5 cylinders and 2.2 l"},
        {"/map/file", "small.csv", "small.csv have other axes"}}) {
    auto other = session;
    other[nlohmann::json::json_pointer(place)] = value;
    std::ofstream(at("first/other.json")) << other.dump();
    EXPECT_EQ(run(COMPARE_PASSES_PROGRAM, at("first/session.json").string() + " " + at("first/other.json").string() +
                                              " --out " + at("compared").string()),
              2);
    EXPECT_NE(bytes(at("complained")).find(says), std::string::npos) << bytes(at("complained"));
    EXPECT_FALSE(fs::exists(at("compared"))) << says;
  }
}

TEST_F(Passes, TruthOfAnotherEngineIsNotReplaced) {
  ASSERT_EQ(drive("--minutes 0.2 --out " + at("first").string()), 0);
  ASSERT_EQ(drive("--seed 2 --minutes 0.2 --out " + at("other").string()), 0);
  for (const std::string& truth :
       {bytes(at("other/truth/truth.json")), std::string("{\"seed\": \"one\"}"), std::string("{}")}) {
    std::ofstream(at("other/truth/truth.json")) << truth;
    EXPECT_EQ(drive("--session " + at("first/session.json").string() + " --minutes 0.2 --out " + at("other").string()),
              2);
    EXPECT_NE(bytes(at("complained")).find("is not the truth of the session's engine, seed 1"), std::string::npos)
        << bytes(at("complained"));
    EXPECT_EQ(bytes(at("other/truth/truth.json")), truth);
  }
}

TEST_F(Passes, PlanThatIsNoPlanOfThisMapIsRefusedWithItsLine) {
  ASSERT_EQ(drive("--minutes 0.2 --out " + at("first").string()), 0);
  const std::string head = "rpm,throttle_pct,rpm_to,throttle_pct_to\n3000,20,3000,20\n";
  for (const auto& [plan, says] :
       {std::pair{head + "3000,20,3000,120\n", "plan.csv, line 3: throttle_pct_to is 120, expected 0 to 100"},
        {head + "12000,20,12000,20\n",
         "plan.csv, line 3: rpm is 12000, expected 800 to 9000 as on the map that is driven"},
        {std::string("rpm,manifold_kPa,rpm_to,manifold_kPa_to\n3000,60,3000,60\n"),
         "plan.csv, line 1: found no column \"throttle_pct\""}}) {
    std::ofstream(at("plan.csv")) << plan;
    EXPECT_EQ(drive("--session " + at("first/session.json").string() + " --drive plan --plan " +
                    at("plan.csv").string() + " --out " + at("next").string()),
              2);
    EXPECT_NE(bytes(at("complained")).find(says), std::string::npos) << bytes(at("complained"));
    EXPECT_FALSE(fs::exists(at("next"))) << says;
  }
}

TEST_F(Passes, LoadedTrimsReachTheirCylinders) {
  ASSERT_EQ(drive("--minutes 0.2 --no-noise --cylinder-sensors --out " + at("first").string()), 0);
  auto session = nlohmann::ordered_json::parse(bytes(at("first/session.json")));
  for (int i = 1; i <= 5; ++i) {
    std::ofstream(at("first") / ("trim_" + std::to_string(i) + ".csv"))
        << "rpm,value\n1000," << (i == 1 ? 1.1 : 1) << "\n9000," << (i == 1 ? 1.1 : 1) << "\n";
    session["cylinders"]["trim_maps"].push_back({{"file", "trim_" + std::to_string(i) + ".csv"}});
  }
  std::ofstream(at("first/session.json")) << session.dump();
  ASSERT_EQ(drive("--session " + at("first/session.json").string() + " --seed 1 --minutes 0.2 --no-noise --out " +
                  at("next").string()),
            0)
      << bytes(at("complained"));
  const auto lambda_at_the_line = [](std::string log, std::size_t column) {  // a second and a half after the start
    for (int row = 0; row <= 150; ++row) log.erase(0, log.find('\n') + 1);
    std::string line = log.substr(0, log.find('\n'));
    for (; column > 0; --column) line.erase(0, line.find(',') + 1);
    return std::stod(line);
  };
  const std::string before = bytes(at("first/stage.csv")), after = bytes(at("next/stage.csv"));
  EXPECT_NEAR(lambda_at_the_line(after, 7) / lambda_at_the_line(before, 7), 1 / 1.1, 2e-3);  // pipe 1: 10 % richer
  EXPECT_NEAR(lambda_at_the_line(after, 8) / lambda_at_the_line(before, 8), 1,
              1e-3);  // pipe 2: as it was; the log's four digits
}

}  // namespace passes_program_test

// SPDX-License-Identifier: MIT
#ifdef TRIM_CYLINDERS_PROGRAM
#include <gtest/gtest.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <nlohmann/json.hpp>
#include <numeric>
#include <string>
#include <vector>

#include "fettle/io.hpp"
#include "virtual_engine/engine.hpp"

namespace trim_cylinders_program_test {

namespace fs = std::filesystem;

std::string bytes(const fs::path& path) {
  std::ifstream in(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

/// Two rotated runs of the virtual engine, made once.
class TrimCylindersProgram : public testing::Test {
 protected:
  static void SetUpTestSuite() {
    folder() = fs::path(testing::TempDir()) / ("trim_cylinders_" + std::to_string(getpid()));
    fs::remove_all(folder());
    fs::create_directories(folder());
    ASSERT_EQ(run(VIRTUAL_ENGINE_PROGRAM, "--out " + folder().string() + " --seed 3 --minutes 2 --rotated-runs 2"), 0)
        << said();
  }
  static void TearDownTestSuite() { fs::remove_all(folder()); }

  static fs::path& folder() {
    static fs::path path;
    return path;
  }
  static int run(const std::string& program, const std::string& words) {
    const int status = std::system((program + " " + words + " > " + (folder() / "said").string() + " 2>&1").c_str());
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
  }
  static std::string said() { return bytes(folder() / "said"); }
  static nlohmann::json session() { return nlohmann::json::parse(bytes(folder() / "session.json")); }
  /// Runs on a changed session file; what it refuses with.
  static std::string refusal(const std::string& text) {
    std::ofstream(folder() / "changed.json") << text;
    EXPECT_EQ(
        run(TRIM_CYLINDERS_PROGRAM, (folder() / "changed.json").string() + " --out " + (folder() / "refused").string()),
        2);
    EXPECT_FALSE(fs::exists(folder() / "refused"));
    return said();
  }
};

// Known defect: trims stated to 0.3 % or better are 0.70 % off in the root mean square.
TEST_F(TrimCylindersProgram, FindsTheTrimsOfTheDemo) {
  const fs::path out = folder() / "out";
  ASSERT_EQ(run(TRIM_CYLINDERS_PROGRAM, (folder() / "session.json").string() + " --out " + out.string()), 0) << said();
  const auto e = virtual_engine::engine::from_seed(3);
  const auto summary = nlohmann::json::parse(bytes(out / "summary.json"));
  EXPECT_TRUE(summary["every_trim_separable"].get<bool>());
  double squares = 0, count = 0;
  for (std::size_t i = 0; i < 5; ++i) {
    EXPECT_NO_THROW((void)fettle::read_map_csv(out / ("trim_cylinder_" + std::to_string(i + 1) + ".csv")));
    for (const auto& cell : summary["cylinders"][i]["cells"]) {
      if (!cell.contains("needs") || cell["standard_error_pct"].get<double>() > 0.3) continue;
      const double error = cell["needs"].get<double>() / e.air_factors(cell["rpm"].get<double>())[i] - 1;
      squares += error * error;
      ++count;
    }
  }
  EXPECT_GT(count, 20);
  EXPECT_LT(std::sqrt(squares / count), 0.003);
  ASSERT_FALSE(summary["next"].empty());  // what to do once the trims are loaded, on the terminal and in the report
  EXPECT_NE(said().find("next: load the trims, drive, and correct the map from that log"), std::string::npos) << said();
  EXPECT_NE(bytes(out / "report.html").find("What to do next"), std::string::npos);
  EXPECT_LT(summary["spread_pct"]["after"].get<double>(), 0.3 * summary["spread_pct"]["before"].get<double>());
  for (const char* words : {"Cylinder 5", "The leanest cylinder everywhere", "Where each sensor sat"})
    EXPECT_NE(bytes(out / "report.html").find(words), std::string::npos) << words;

  std::size_t results = 0;  // none of them may be the map of a session whose results go there
  for (const auto& result : fs::directory_iterator(out)) {
    auto own_session = session();
    own_session["map"]["file"] = result.path().string();
    const std::string before = bytes(result.path());
    std::ofstream(folder() / "own.json") << own_session;
    EXPECT_EQ(run(TRIM_CYLINDERS_PROGRAM, (folder() / "own.json").string() + " --out " + out.string()), 2);
    EXPECT_NE(said().find(result.path().string() + ": is read here"), std::string::npos) << said();
    EXPECT_EQ(bytes(result.path()), before);
    ++results;
  }
  EXPECT_EQ(results, 9U);
}

TEST_F(TrimCylindersProgram, AppliesWhatFollowsWithoutARotationAndSaysHowSureItIs) {
  auto still = session();
  for (auto& log : still["logs"]) log.erase("assignment");
  still["logs"].erase(1);
  std::ofstream(folder() / "still.json") << still;
  const fs::path out = folder() / "still";
  ASSERT_EQ(run(TRIM_CYLINDERS_PROGRAM, (folder() / "still.json").string() + " --out " + out.string()), 0) << said();
  EXPECT_NE(said().find("gain of sensor pipe 2 and trim of cylinder 2 cannot be distinguished"), std::string::npos);
  EXPECT_NE(bytes(out / "report.html").find("The sensor that read this cylinder was not moved"), std::string::npos);
  const auto e = virtual_engine::engine::from_seed(3);
  double before = 0, after = 0;  // squares of what the cylinders that need more still need
  const auto summary = nlohmann::json::parse(bytes(out / "summary.json"));
  for (std::size_t i = 0; i < 5; ++i)
    for (const auto& cell : summary["cylinders"][i]["cells"]) {
      if (!cell.contains("needs")) continue;
      EXPECT_GT(cell["standard_error_pct"].get<double>(), 0.5);
      const double needed = std::log(e.air_factors(cell["rpm"].get<double>())[i]);
      before += std::pow(std::max(needed, 0.0), 2);
      after += std::pow(std::max(needed - std::log(cell["gets"].get<double>()), 0.0), 2);
    }
  EXPECT_LT(after, 0.5 * before);
}

/// Standard deviation of lambda between the cylinders in two rotated runs, in percent: of their means over each thousand
/// revolutions per minute, gains of the sensors taken out.
double spread_between_cylinders(const fs::path& folder) {
  const auto truth = nlohmann::json::parse(bytes(folder / "truth" / "truth.json"));
  double variance = 0, all_rows = 0;
  for (std::size_t run = 0; run < 2; ++run) {
    std::vector<fettle::log_channel> wanted{{.name = "rpm", .file_name = "rpm"}};
    for (std::size_t i = 1; i <= 5; ++i)
      wanted.push_back({.name = truth["sensors"][i]["column"], .file_name = truth["sensors"][i]["column"]});
    const auto log = fettle::read_log_csv(folder / ("stage_" + std::to_string(run + 1) + ".csv"), wanted);
    std::array<double, 5> lambda{};  // each sensor has its own rate: its last sample holds
    std::array<std::array<double, 5>, 10> sum{};
    std::array<double, 10> rows{};
    for (std::size_t row = 0; row < log.rows(); ++row) {
      bool is_near = true;
      for (std::size_t i = 0; i < 5; ++i) {
        if (const double read = log.columns[i + 1][row]; !std::isnan(read))
          lambda[i] = read * truth["sensors"][i + 1]["gain"].get<double>();
        is_near = is_near && lambda[i] > 0.75 && lambda[i] < 1.15;
      }
      if (!is_near) continue;
      const auto band = static_cast<std::size_t>(log.columns[0][row] / 1000);
      for (std::size_t i = 0; i < 5; ++i) sum[band][i] += lambda[i];
      ++rows[band];
    }
    for (std::size_t band = 0; band < 10; ++band) {
      if (rows[band] < 100) continue;
      const double mean = std::accumulate(sum[band].begin(), sum[band].end(), 0.0) / 5;
      for (const double cylinder_sum : sum[band]) variance += rows[band] * std::pow(cylinder_sum / mean - 1, 2) / 5;
      all_rows += rows[band];
    }
  }
  EXPECT_GT(all_rows, 2000);
  return 100 * std::sqrt(variance / all_rows);
}

TEST_F(TrimCylindersProgram, TrimsThatAreLoadedBringTheCylindersTogetherAndAreCorrectedAgain) {
  const auto at = [](const std::string& name) { return folder() / name; };
  const auto trim = [&](const std::string& from, const std::string& to) {
    ASSERT_EQ(run(TRIM_CYLINDERS_PROGRAM, at(from).string() + " --out " + at(to).string()), 0) << said();
  };
  trim("session.json", "once");
  ASSERT_EQ(run(VIRTUAL_ENGINE_PROGRAM, "--session " + at("once/session.json").string() +
                                            " --seed 3 --minutes 2 --rotated-runs 2 --out " + at("next").string()),
            0)
      << said();
  // The same drives, hands and noise: only the trims differ.
  EXPECT_LT(spread_between_cylinders(at("next")), 0.6 * spread_between_cylinders(folder()));

  trim("next/session.json", "twice");
  const auto session = nlohmann::json::parse(bytes(at("twice/session.json")));
  ASSERT_EQ(session["logs"].size(), 4U);
  EXPECT_EQ(session["logs"][0]["trim_maps"].size(), 0U);  // driven before there were trims
  EXPECT_TRUE(fs::equivalent(at("twice") / session["logs"][3]["trim_maps"][4]["file"].get<std::string>(),
                             at("once/trim_cylinder_5.csv")));
  EXPECT_EQ(session["cylinders"]["trim_maps"][4]["file"], "trim_cylinder_5.csv");
  const auto once = nlohmann::json::parse(bytes(at("once/summary.json"))),
             twice = nlohmann::json::parse(bytes(at("twice/summary.json")));
  EXPECT_LT(twice["spread_pct"]["before"].get<double>(), 0.6 * once["spread_pct"]["before"].get<double>());
  for (std::size_t i = 0; i < 5; ++i) {
    const std::string name = "trim_cylinder_" + std::to_string(i + 1) + ".csv";
    const auto first = fettle::read_map_csv(at("once") / name), second = fettle::read_map_csv(at("twice") / name);
    for (std::size_t k = 0; k < first.table.size(); ++k) {
      const auto& cell = twice["cylinders"][i]["cells"][k];
      EXPECT_NEAR(second.table.values()[k], first.table.values()[k] * cell["gets"].get<double>(), 1e-5);  // five digits
    }
  }
}

TEST_F(TrimCylindersProgram, RefusesTrimsOfALogThatAreNotOnePerCylinder) {
  auto changed = session();
  changed["logs"][0]["trim_maps"] = {{{"file", "trim.csv"}}};
  EXPECT_NE(
      refusal(changed.dump()).find("/logs/0/trim_maps lists 1 maps, expected one for each of the 5 cylinders, or none"),
      std::string::npos)
      << said();
}

TEST_F(TrimCylindersProgram, PlansTheRotation) {
  ASSERT_EQ(run(TRIM_CYLINDERS_PROGRAM, (folder() / "session.json").string() + " --plan"), 0);
  EXPECT_NE(said().find("2 runs distinguish every cylinder"), std::string::npos) << said();
}

TEST_F(TrimCylindersProgram, RefusesBadAssignmentsByName) {
  const auto expect = [](const std::string& text, const std::string& words) {
    const std::string message = refusal(text);
    EXPECT_NE(message.find(words), std::string::npos) << message;
  };
  auto changed = session();
  changed["logs"][0]["assignment"]["pipe 3"] = 6;
  expect(changed.dump(), "/logs/0/assignment/pipe 3 is 6, expected a whole number from 0 to 5");
  changed = session();
  changed["logs"][0]["assignment"]["pipe 9"] = 1;
  expect(changed.dump(), "moves \"pipe 9\", which is not one of the sensors");
  changed = session();
  changed["sensors"][1].erase("cylinder");
  expect(changed.dump(), "/sensors/1 has no \"cylinder\"");
  changed = session();
  changed["sensors"][2]["name"] = "pipe 1";
  expect(changed.dump(), "names \"pipe 1\" twice");
  changed = session();
  changed["sensors"][2]["column"] = changed["sensors"][1]["column"];
  expect(changed.dump(), "every sensor has a column of its own");
  changed = session();
  changed["sensors"][4]["latency_s"] = -0.05;
  expect(changed.dump(), "/sensors/4/latency_s is -0.05, expected a number from 0 to 2");
  changed = session();
  changed["cylinders"]["trim_axes"]["boost"] = {1, 2};
  expect(changed.dump(), "which is not an axis of");
  std::string twice = session().dump();
  twice.replace(twice.find("\"pipe 1\":1"), 10, "\"pipe 1\":1,\"pipe 1\":2");
  expect(twice, "\"pipe 1\" is given twice in one object");
  changed = session();
  for (auto& log : changed["logs"])
    for (auto& [name, place] : log["assignment"].items()) place = nullptr;
  expect(changed.dump(), "no sensor sits in a cylinder's pipe");
}

}  // namespace trim_cylinders_program_test
#endif

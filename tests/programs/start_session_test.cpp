// SPDX-License-Identifier: MIT
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "fettle/io/map_csv.hpp"
#include "programs/program_run.hpp"

namespace {

namespace fs = std::filesystem;
using json = nlohmann::ordered_json;

const fs::path dialects = DIALECTS_DIR;
const std::string engine = " --cylinders 4 --displacement-l 2 --meaning fuel_mg";

std::string start(const fs::path& log, const fs::path& map, const fs::path& out) {
  return std::string(START_SESSION_PROGRAM) + " " + log.string() + " --map " + map.string() + " --out " + out.string();
}

/// The map that comes out for one log, with nothing said but the engine's size and that the loop was open.
std::vector<double> corrected_by(const fs::path& log) {
  const program_run::folder here("dialect");
  const auto started = program_run::run(here, start(log, dialects / "fuel_map.csv", here.at("s.json")) + engine);
  EXPECT_EQ(started.code, 0) << log << started.said;
  json session = json::parse(program_run::bytes(here.at("s.json")));
  session["closed_loop"] = false;
  here.write("s.json", session.dump());
  const auto corrected = program_run::run(
      here, std::string(CORRECT_MAP_PROGRAM) + " " + here.at("s.json").string() + " --out " + here.at("out").string());
  EXPECT_EQ(corrected.code, 0) << log << corrected.said;
  EXPECT_NE(corrected.said.find("rests on a guess of the session: /banks/0/flow_mg_ms"), std::string::npos);
  const auto map = fettle::read_map_csv(here.at("out") / "corrected_map.csv");
  return {map.table.values().begin(), map.table.values().end()};
}

// The truth is that of dialects/make_dialects.py: 3 % more fuel at closed throttle, 6 % at full.
TEST(StartSession, LeadsTwentyDialectsOfOneLogToTheSameMap) {
  const auto map = fettle::read_map_csv(dialects / "fuel_map.csv").table;
  std::vector<fs::path> logs;
  for (const auto& file : fs::directory_iterator(dialects))
    if (std::isdigit(static_cast<unsigned char>(file.path().filename().string()[0])) != 0) logs.push_back(file.path());
  std::sort(logs.begin(), logs.end());
  ASSERT_EQ(logs.size(), 20U);
  const auto plain = corrected_by(logs[0]);
  double squares = 0;
  for (std::size_t k = 0; k < plain.size(); ++k)
    squares += std::pow(plain[k] / (map.values()[k] * (1.03 + 0.0003 * map.axes()[1].points()[k % 3])) - 1, 2);
  EXPECT_LT(std::sqrt(squares / static_cast<double>(plain.size())), 0.002);
  for (const auto& log : logs) {
    const auto values = corrected_by(log);
    ASSERT_EQ(values.size(), plain.size()) << log;
    for (std::size_t k = 0; k < plain.size(); ++k) EXPECT_NEAR(values[k] / plain[k], 1, 0.001) << log << k;
  }
}

TEST(StartSession, MarksEveryGuessAndSaysWhatItCouldNotKnow) {
  const program_run::folder here("start_session");
  const auto started =
      program_run::run(here, start(dialects / "01_plain.csv", dialects / "fuel_map.csv", here.at("s.json")));
  ASSERT_EQ(started.code, 0) << started.said;
  const json session = json::parse(program_run::bytes(here.at("s.json")));
  EXPECT_TRUE(session["engine"].contains("guess of cylinders"));
  EXPECT_TRUE(session["sensors"][0].contains("guess of pipe_gas_mass_g"));
  EXPECT_NEAR(session["banks"][0]["flow_mg_ms"].get<double>(), 4.2, 0.01);  // as the controller of the log has it
  EXPECT_NEAR(session["banks"][0]["dead_time_ms"].get<double>(), 0.9, 0.02);
  EXPECT_NE(started.said.find("could not be known\n  whether closed loop was active"), std::string::npos);
  EXPECT_NE(started.said.find("/engine/cylinders, 4: not said; give --cylinders"), std::string::npos);
}

TEST(StartSession, RefusesWhatItCannotUseAndLeavesNoFile) {
  const program_run::folder here("start_session");
  here.write("map.csv", "rpm,fuel_mg\n1000,10\n5000,12\n");
  here.write("no_time.csv", "rpm,lambda\n1000,1\n2000,1\n");
  here.write("no_lambda.csv", "time_s,rpm\n0,1000\n1,2000\n");
  here.write("empty.csv", "");
  for (const auto& [file, words] : {std::pair{"no_time.csv", "no column was recognised as time_s"},
                                    {"no_lambda.csv", "no column was recognised as lambda or air-fuel ratio"},
                                    {"empty.csv", "the file is empty"},
                                    {"missing.csv", "there is no such file"}}) {
    const auto refused = program_run::run(here, start(here.at(file), here.at("map.csv"), here.at("s.json")));
    EXPECT_EQ(refused.code, 2);
    EXPECT_NE(refused.said.find(words), std::string::npos) << refused.said;
    EXPECT_FALSE(fs::exists(here.at("s.json")));
  }
  here.write("s.json", "mine");
  const auto refused =
      program_run::run(here, start(dialects / "01_plain.csv", dialects / "fuel_map.csv", here.at("s.json")));
  EXPECT_EQ(refused.code, 2);
  EXPECT_NE(refused.said.find("is there already"), std::string::npos) << refused.said;
  EXPECT_EQ(program_run::bytes(here.at("s.json")), "mine");
}

}  // namespace

// SPDX-License-Identifier: MIT
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "fettle/error.hpp"
#include "fettle/io/log_csv.hpp"
#include "fettle/io/log_preview.hpp"
#include "fettle/io/map_csv.hpp"
#include "programs/program_run.hpp"
#include "start_session/column_look.hpp"
#include "start_session/recognise.hpp"

namespace start_session_test {

namespace fs = std::filesystem;
using json = nlohmann::ordered_json;

const fs::path dialects = DIALECTS_DIR;
const std::string engine = " --cylinders 4 --displacement-l 2 --meaning fuel_mg";

std::string start(const fs::path& log, const fs::path& map, const fs::path& out) {
  return std::string(START_SESSION_PROGRAM) + " " + log.string() + " --map " + map.string() + " --out " + out.string();
}

/// Cells of a map and their standard errors in percent.
struct corrected_cells {
  std::vector<double> value, error_pct;
};

/// The map that comes out for one log, with nothing said but the engine's size and that the loop was open.
corrected_cells corrected_by(const fs::path& log) {
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
  const auto cells = [&](const char* name) {
    const auto map = fettle::read_map_csv(here.at("out") / name);
    return std::vector<double>(map.table.values().begin(), map.table.values().end());
  };
  return {cells("corrected_map.csv"), cells("standard_error_pct.csv")};
}

// The truth is that of dialects/make_dialects.py: 3 % more fuel at closed throttle, 6 % at full.
TEST(StartSession, LeadsAllDialectsOfOneLogToTheSameMap) {
  const auto map = fettle::read_map_csv(dialects / "fuel_map.csv").table;
  std::vector<fs::path> logs;
  for (const auto& file : fs::directory_iterator(dialects))
    if (std::isdigit(static_cast<unsigned char>(file.path().filename().string()[0])) != 0) logs.push_back(file.path());
  std::sort(logs.begin(), logs.end());
  ASSERT_EQ(logs.size(), 21U);
  const auto plain = corrected_by(logs[0]);
  constexpr double nine_at_once = 2.77;  // standard errors within which nine normal values lie together in 95 %
  double squares = 0, scores = 0;
  for (std::size_t k = 0; k < plain.value.size(); ++k) {
    const double truth = map.values()[k] * (1.03 + 0.0003 * map.axes()[1].points()[k % 3]);
    const double error = plain.value[k] / truth - 1;
    EXPECT_LT(std::abs(error), nine_at_once * plain.error_pct[k] / 100) << k;
    scores += std::pow(100 * error / plain.error_pct[k], 2);
    squares += error * error;
  }
  EXPECT_LT(scores, 16.92);  // the 95 % point of chi-squared with nine degrees of freedom
  EXPECT_LT(std::sqrt(squares / static_cast<double>(plain.value.size())), 0.002);
  for (std::size_t dialect = 1; dialect < logs.size(); ++dialect) {
    const auto cells = corrected_by(logs[dialect]);
    ASSERT_EQ(cells.value.size(), plain.value.size()) << logs[dialect];
    for (std::size_t k = 0; k < plain.value.size(); ++k)
      EXPECT_NEAR(cells.value[k] / plain.value[k], 1, 0.001) << logs[dialect] << k;
  }
}

/// Puts a word in place of a cell; line and column counted from 1.
std::string with_cell(const std::string& text, char separator, std::size_t line, std::size_t column,
                      const std::string& word) {
  std::size_t first = 0;
  for (; line > 1; --line) first = text.find('\n', first) + 1;
  for (; column > 1; --column) first = text.find(separator, first) + 1;
  const std::size_t last = text.find_first_of(std::string("\r\n") + separator, first);
  return text.substr(0, first) + word + text.substr(last);
}

TEST(StartSession, LogsOfAllDialectsAreRefusedAtTheCellThatIsNoNumber) {
  const program_run::folder here("dialect");
  for (const auto& file : fs::directory_iterator(dialects)) {
    if (std::isdigit(static_cast<unsigned char>(file.path().filename().string()[0])) == 0) continue;
    const auto log = fettle::preview_log_csv(file.path());
    const std::size_t line = log.layout.first_line + log.layout.unit_lines + 200, column = 3;
    here.write("log.csv", with_cell(program_run::bytes(file.path()), log.layout.separator, line, column, "wide open"));
    std::string problem;
    try {
      (void)fettle::read_log_csv(here.at("log.csv"), std::vector<fettle::log_channel>{
                                                         {.name = "time_s", .file_name = log.names[0]},
                                                         {.name = "throttle_pct", .file_name = log.names[column - 1]}});
    } catch (const fettle::error& refused) {
      problem = refused.what();
    }
    const std::string place = "log.csv, line " + std::to_string(line) + ", column 3 (" + log.names[column - 1] + "): ";
    EXPECT_NE(problem.find(place + "found \"wide open\", expected a"), std::string::npos) << file.path() << problem;
  }
}

// By itself the first log has other names for speed, lambda and pulse, the second has ours.
TEST(StartSession, NamesTheColumnsOfEveryLogWhereTheyDiffer) {
  const program_run::folder here("start_session");
  const std::string plain = program_run::bytes(dialects / "01_plain.csv");
  here.write("plain.csv",
             plain.substr(0, plain.rfind('\n', plain.size() - 2) + 1));  // a copy of the other log is refused
  const std::string logs = (dialects / "20_other_units.csv").string() + " " + here.at("plain.csv").string();
  const auto started = program_run::run(here, start(logs, dialects / "fuel_map.csv", here.at("s.json")) + engine);
  ASSERT_EQ(started.code, 0) << started.said;
  json session = json::parse(program_run::bytes(here.at("s.json")));
  EXPECT_FALSE(session.contains("columns"));
  EXPECT_EQ(session["logs"][0]["columns"]["rpm"]["name"], "engine_rpm");
  EXPECT_TRUE(session["logs"][1].contains("columns"));
  EXPECT_FALSE(session["logs"][1]["columns"].contains("rpm"));
  session["closed_loop"] = false;
  here.write("s.json", session.dump());
  const auto corrected = program_run::run(
      here, std::string(CORRECT_MAP_PROGRAM) + " " + here.at("s.json").string() + " --out " + here.at("out").string());
  EXPECT_EQ(corrected.code, 0) << corrected.said;
}

TEST(StartSession, NamesTheColumnsOnceWhereTheyAreAlikeInAllLogs) {
  const program_run::folder here("start_session");
  here.write("again.csv", program_run::bytes(dialects / "20_other_units.csv"));
  const std::string logs = (dialects / "20_other_units.csv").string() + " " + here.at("again.csv").string();
  const auto started = program_run::run(here, start(logs, dialects / "fuel_map.csv", here.at("s.json")) + engine);
  ASSERT_EQ(started.code, 0) << started.said;
  const json session = json::parse(program_run::bytes(here.at("s.json")));
  EXPECT_EQ(session["columns"]["rpm"]["name"], "engine_rpm");
  for (const auto& log : session["logs"]) EXPECT_FALSE(log.contains("columns"));
}

TEST(StartSession, SaysWhatALaterLogLacks) {
  const program_run::folder here("start_session");
  here.write("second.csv", "time_s,rpm,throttle_pct,lambda\n0,1000,10,1\n0.1,2000,20,0.9\n0.2,3000,30,1\n");
  const std::string logs = (dialects / "01_plain.csv").string() + " " + here.at("second.csv").string();
  const auto started = program_run::run(here, start(logs, dialects / "fuel_map.csv", here.at("s.json")) + engine);
  ASSERT_EQ(started.code, 0) << started.said;
  for (const char* name : {"pulse_ms", "lambda_target"})
    EXPECT_NE(started.said.find("second.csv: which column is " + std::string(name) +
                                ", as in 01_plain.csv; name it "
                                "under /logs/1/columns"),
              std::string::npos)
        << started.said;
  EXPECT_EQ(json::parse(program_run::bytes(here.at("s.json")))["banks"][0]["flow_mg_ms"], 4.2);  // known all the same
}

TEST(StartSession, NamesFilesAsSeenFromAFolderAboveTheWorkingOne) {
  const program_run::folder here("start_session");
  fs::create_directories(here.at("season/day"));
  here.write("season/fuel_map.csv", program_run::bytes(dialects / "fuel_map.csv"));
  here.write("season/day/log.csv", program_run::bytes(dialects / "01_plain.csv"));
  const auto started = program_run::run(here, "cd " + here.at("season/day").string() + " && " +
                                                  start("log.csv", "../fuel_map.csv", "../s.json") + engine);
  ASSERT_EQ(started.code, 0) << started.said;
  const json session = json::parse(program_run::bytes(here.at("season/s.json")));
  EXPECT_EQ(session["logs"][0]["file"], "day/log.csv");
  EXPECT_EQ(session["map"]["file"], "fuel_map.csv");
}

TEST(StartSession, TakesNoInjectionTimeForTheTimeOfARow) {
  const fettle::log_preview log{.layout = {},
                                .names = {"Injection time [ms]", "Dwell time [ms]", "Time [s]"},
                                .units = {"", "", ""},
                                .columns = {{3, 4, 5, 6}, {2, 2, 3, 2}, {0, 0.1, 0.2, 0.3}}};
  const auto quantities = start_session::recognise(start_session::look_at_columns(log), 14.6);
  ASSERT_EQ(quantities.conditions.size(), 1U);
  EXPECT_EQ(quantities.conditions[0].name, "time_s");
  EXPECT_EQ(quantities.conditions[0].column, 2U);
  ASSERT_EQ(quantities.pulses.size(), 1U);
  EXPECT_EQ(quantities.pulses[0].column, 0U);
}

TEST(StartSession, TellsCutsOfIgnitionFromCutsOfFuelInEitherOrder) {
  for (const std::size_t fuel : {0U, 1U}) {
    fettle::log_preview log{.layout = {},
                            .names = {"Ignition cut", "Ignition cut", "Time [s]"},
                            .units = {"", "", ""},
                            .columns = {{0, 1, 0, 0}, {0, 0, 1, 0}, {0, 0.1, 0.2, 0.3}}};
    log.names[fuel] = "Fuel cut";
    const auto quantities = start_session::recognise(start_session::look_at_columns(log), 14.6);
    for (const auto& each : quantities.conditions)
      EXPECT_EQ(each.name, each.column == 2 ? "time_s" : each.column == fuel ? "fuel_cut" : "ignition_cut");
    EXPECT_EQ(quantities.conditions.size(), 3U);
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
  here.write("no_pair.csv", "rpm,0,100\n1000,10,20\n2000,12,24\n");
  for (const char* map : {"no_pair.csv", "no_map.csv"}) {
    const auto refused = program_run::run(here, start(dialects / "01_plain.csv", here.at(map), here.at("s.json")));
    EXPECT_EQ(refused.code, 2);
    EXPECT_NE(refused.said.find(std::string("start_session: ") + here.at(map).string()), std::string::npos)
        << refused.said;
    EXPECT_FALSE(fs::exists(here.at("s.json")));
  }
  here.write("s.json", "mine");
  const auto refused =
      program_run::run(here, start(dialects / "01_plain.csv", dialects / "fuel_map.csv", here.at("s.json")));
  EXPECT_EQ(refused.code, 2);
  EXPECT_NE(refused.said.find("is there already"), std::string::npos) << refused.said;
  EXPECT_EQ(program_run::bytes(here.at("s.json")), "mine");
}

}  // namespace start_session_test

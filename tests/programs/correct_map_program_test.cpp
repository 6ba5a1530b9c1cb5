// SPDX-License-Identifier: MIT
#include <gtest/gtest.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <functional>
#include <iterator>
#include <nlohmann/json.hpp>
#include <sstream>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

#include "fettle/io.hpp"

namespace correct_map_program_test {

namespace fs = std::filesystem;
using json = nlohmann::ordered_json;

std::string bytes(const fs::path& path) {
  std::ifstream in(path, std::ios::binary);
  EXPECT_TRUE(in) << path;
  return {std::istreambuf_iterator<char>(in), {}};
}

void write(const fs::path& path, const std::string& text) {
  std::ofstream(path, std::ios::binary) << text;
}

std::vector<double>& column(fettle::log_table& log, const std::string& name) {
  for (std::size_t i = 0; i < log.names.size(); ++i)
    if (log.names[i] == name) return log.columns[i];
  throw std::runtime_error("no column " + name);
}

void fill(std::vector<double>& series, double value) {
  std::fill(series.begin(), series.end(), value);
}

/// A demo session in a folder of its own; each test spoils a copy.
class CorrectMapProgram : public testing::Test {
 protected:
  static void SetUpTestSuite() {
    demo() = fs::path(testing::TempDir()) / ("correct_map_" + std::to_string(getpid()));
    fs::remove_all(demo());
    ASSERT_EQ(
        shell(std::string(VIRTUAL_ENGINE_PROGRAM) + " --seed 31 --minutes 3 --out " + demo().string() + " >/dev/null"),
        0);
  }
  static void TearDownTestSuite() { fs::remove_all(demo()); }

  void SetUp() override {
    folder_ = demo() / testing::UnitTest::GetInstance()->current_test_info()->name();
    fs::create_directories(folder_);
    for (const char* name : {"session.json", "fuel_map.csv", "share_map.csv", "stage.csv"})
      fs::copy_file(demo() / name, folder_ / name);
  }

  [[nodiscard]] int run(const std::string& words = "") const {
    return shell(std::string(CORRECT_MAP_PROGRAM) + " " + (folder_ / "session.json").string() + " --out " +
                 (folder_ / "out").string() + " " + words + " >" + (folder_ / "said").string() + " 2>&1");
  }
  [[nodiscard]] std::string said() const { return bytes(folder_ / "said"); }
  [[nodiscard]] fs::path at(const std::string& name) const { return folder_ / name; }

  void change_session(const std::function<void(json&)>& change) const {
    json session = json::parse(bytes(at("session.json")));
    change(session);
    write(at("session.json"), session.dump(2));
  }

  /// Rewrites the log, changed.
  void change_log(const std::function<void(fettle::log_table&)>& change) const {
    std::string head = bytes(at("stage.csv"));
    head.resize(head.find('\n'));
    std::vector<fettle::log_channel> channels;
    for (std::size_t begin = 0; begin < head.size();) {
      const std::size_t end = std::min(head.find(',', begin), head.size());
      channels.emplace_back();
      channels.back().name = channels.back().file_name = head.substr(begin, end - begin);
      begin = end + 1;
    }
    auto log = fettle::read_log_csv(at("stage.csv"), channels);
    change(log);
    fettle::write_log_csv(at("stage.csv"), log);
  }

  /// The program explains and leaves no file behind.
  void expect_refusal(std::initializer_list<std::string> parts) const {
    EXPECT_EQ(run(), 2) << said();
    for (const auto& part : parts)
      EXPECT_NE(said().find(part), std::string::npos) << "expected: " << part << "\nsaid: " << said();
    EXPECT_FALSE(fs::exists(at("out")));
  }

  [[nodiscard]] static int shell(const std::string& command) {
    const int status = std::system(command.c_str());
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
  }

 private:
  [[nodiscard]] static fs::path& demo() {
    static fs::path folder;
    return folder;
  }
  fs::path folder_;
};

TEST_F(CorrectMapProgram, CorrectsTheDemoAndWritesEveryFile) {
  ASSERT_EQ(run(), 0) << said();
  const auto base = fettle::read_map_csv(at("fuel_map.csv")),
             corrected = fettle::read_map_csv(at("out/corrected_map.csv"));
  EXPECT_EQ(corrected.axis_names, base.axis_names);
  EXPECT_EQ(corrected.table.axes(), base.table.axes());
  const json summary = json::parse(bytes(at("out/summary.json")));
  EXPECT_LT(summary["lambda_error_rms_pct"]["map_after"].get<double>(),
            summary["lambda_error_rms_pct"]["map_before"].get<double>());
  std::size_t cells = 0;
  for (const auto& [state, list] : summary["cells"].items()) cells += list.size();
  EXPECT_EQ(cells, base.table.size());
  for (std::size_t k = 0; k < base.table.size(); ++k) {
    const double change = corrected.table.values()[k] / base.table.values()[k] - 1;
    EXPECT_GT(change, -0.0501) << k;
    EXPECT_LT(change, 0.1501) << k;
  }
  for (const char* name :
       {"estimated_map.csv", "standard_error_pct.csv", "seconds.csv", "drive_next.csv", "report.html"})
    EXPECT_TRUE(fs::exists(at("out") / name)) << name;
  EXPECT_NE(bytes(at("out/report.html")).find("one lean cylinder can hide"), std::string::npos);
  EXPECT_NE(said().find("closed course"), std::string::npos);
  std::istringstream lines(said());
  for (const char* answer : {"Load:  ", "Safe:  ", "Next:  "}) {
    std::string line;
    std::getline(lines, line);
    EXPECT_EQ(line.substr(0, 7), answer);
  }
  EXPECT_NE(said().find("Load:  " + at("out/corrected_map.csv").string() + " ("), std::string::npos) << said();
}

TEST_F(CorrectMapProgram, KeepsTheSessionsPathWhenToldTo) {
  ASSERT_EQ(run("--path given"), 0) << said();
  EXPECT_TRUE(json::parse(bytes(at("out/summary.json")))["parameters"].empty());
}

TEST_F(CorrectMapProgram, GivesTheMapBackInTheOrderOfItsFile) {
  auto map = fettle::read_map_csv(at("fuel_map.csv"));
  map.descending = {true, false};
  fettle::write_map_csv(at("fuel_map.csv"), map);
  ASSERT_EQ(run("--path given"), 0) << said();
  const std::string text = bytes(at("out/corrected_map.csv"));
  EXPECT_EQ(text.substr(0, text.find(',')), "rpm/throttle_pct");
  EXPECT_EQ(text.substr(text.find('\n') + 1, 5), "9000,");
}

// One bank, two cylinders, a map of one axis holding VE, columns of other names and units.
TEST_F(CorrectMapProgram, TakesAnotherEngineWithAMapOfOneAxis) {
  write(at("ve.csv"), "throttle_pct,ve_pct\n0,10\n20,50\n60,85\n100,95\n");
  std::string log = "t ms,n,throttle_pct,target,wide,pw\n";
  for (int i = 0; i < 4000; ++i) {  // an engine that needs 4 % more than the table says
    const double throttle = 50 + 45 * std::sin(i * 0.003), ve = throttle < 20   ? 10 + 2 * throttle
                                                                : throttle < 60 ? 50 + 0.875 * (throttle - 20)
                                                                                : 85 + 0.25 * (throttle - 60);
    const double air_mg = ve / 100 * 100 * 300 * 1e3 / (287.05 * 298.15), fuel_mg = air_mg / 14.6;
    log += std::to_string(10 * i) + "," + std::to_string(3000 + i % 7) + "," + std::to_string(throttle) + ",1," +
           std::to_string(1.04 + 0.001 * ((i * 7) % 11 - 5)) + "," + std::to_string(fuel_mg / 2 + 0.9) + "\n";
  }
  write(at("bench.csv"), log);
  write(at("session.json"), R"({"title": "two cylinders", "engine": {"cylinders": 2, "displacement_l": 0.6},
    "fuel": {"stoichiometric_afr": 14.6},
    "banks": [{"name": "port", "flow_mg_ms": 2, "dead_time_ms": 0.9, "smallest_pulse_ms": 1.2, "pulse_column": "pw"}],
    "map": {"file": "ve.csv", "meaning": "ve_pct"}, "logs": [{"file": "bench.csv"}],
    "columns": {"time_s": {"name": "t ms", "factor": 0.001}, "rpm": {"name": "n"}, "lambda_target": {"name": "target"}},
    "sensors": [{"name": "pipe", "column": "wide", "cylinder": 0, "lag_s": 0.05, "pipe_gas_mass_g": 0.3}],
    "path": {"revolutions": 1.5}})");
  ASSERT_EQ(run("--path given"), 0) << said();
  const auto corrected = fettle::read_map_csv(at("out/corrected_map.csv"));
  EXPECT_NEAR(corrected.table.values()[1] / 50, 1.04, 0.003);
  EXPECT_NEAR(corrected.table.values()[2] / 85, 1.04, 0.003);
}

TEST_F(CorrectMapProgram, CallsOutFuelThatReadingsOfLittleFlowAskFor) {
  change_log([](fettle::log_table& log) {
    const auto& throttle_pct = column(log, "throttle_pct");
    auto& lambda = column(log, "lambda_collector");
    for (std::size_t i = 0; i < lambda.size(); ++i)
      if (throttle_pct[i] < 4) lambda[i] *= 1.12;
  });
  ASSERT_NE(run("--path given"), 2) << said();
  EXPECT_NE(bytes(at("out/summary.json")).find("readings at little exhaust flow ask for more fuel in "),
            std::string::npos);
}

// Driven without the second bank, then with it, which delivers 1 / 1.08 of its description.
TEST_F(CorrectMapProgram, TellsTheFlowOfABankFromLogsOfOtherShares) {
  const auto drive = [&](const std::string& words) {
    return shell(std::string(VIRTUAL_ENGINE_PROGRAM) + " --minutes 3 --secondary-flow-factor 1.08 " + words + " >" +
                 at("said").string());
  };
  ASSERT_EQ(drive("--seed 31 --out " + at("with").string()), 0);
  fs::copy(at("with"), at("without"), fs::copy_options::recursive);
  auto share = fettle::read_map_csv(at("without/share_map.csv"));
  for (double& value : share.table.values()) value = 0;
  fettle::write_map_csv(at("without/share_map.csv"), share);
  ASSERT_EQ(drive("--seed 5 --session " + at("without/session.json").string() + " --out " + at("before").string()), 0);
  for (const char* name : {"fuel_map.csv", "share_map.csv", "stage.csv"})
    fs::copy_file(at("with") / name, at(name), fs::copy_options::overwrite_existing);
  write(at("session.json"), bytes(at("with/session.json")));
  change_session([&](json& s) { s["logs"] = {{{"file", "before/stage.csv"}}, {{"file", "stage.csv"}}}; });
  ASSERT_EQ(run(), 0) << said();
  const auto summary = json::parse(bytes(at("out/summary.json")));
  double factor = 0;
  for (const auto& parameter : summary["parameters"])
    if (parameter["name"] == "flow factor, secondary") factor = parameter["value"];
  EXPECT_NEAR(factor, 1 / 1.08, 0.015);
  EXPECT_NE(summary.dump().find("bank secondary delivers "), std::string::npos);
}

TEST_F(CorrectMapProgram, NamesTheCellOfTheShareMapThatHoldsNoShare) {
  auto share = fettle::read_map_csv(at("share_map.csv"));
  share.table.values()[13] = 1.2;
  fettle::write_map_csv(at("share_map.csv"), share);
  expect_refusal({"share_map.csv: cell rpm 1200, throttle_pct 0 holds 1.2", "a share from 0 to 1"});
}

TEST_F(CorrectMapProgram, RefusesTheSameReadingsUnderAnotherName) {
  fs::copy_file(at("stage.csv"), at("again.csv"));
  change_session([](json& s) { s["logs"].push_back({{"file", "again.csv"}}); });
  expect_refusal({"stage.csv", "again.csv", "hold the same readings"});
}

TEST_F(CorrectMapProgram, WritesNoMapFromLogsThatContradictEachOther) {
  fs::copy_file(at("stage.csv"), at("before.csv"));
  change_log([](fettle::log_table& log) {
    for (double& lambda : column(log, "lambda_collector"))
      if (lambda < 1.4) lambda *= 1.1;
  });
  change_session([](json& s) { s["logs"].push_back({{"file", "before.csv"}}); });
  EXPECT_EQ(run(), 3) << said();
  EXPECT_NE(said().find("before.csv reads "), std::string::npos) << said();
  EXPECT_NE(said().find("% richer than the rest, where 1 % is usual"), std::string::npos) << said();
  EXPECT_FALSE(fs::exists(at("out/corrected_map.csv")));
}

TEST_F(CorrectMapProgram, IsNotSafeWhereASensorStoodAtItsLeanEnd) {
  change_log([](fettle::log_table& log) {
    auto& lambda = column(log, "lambda_collector");
    std::fill(lambda.end() - 6000, lambda.end(), 1.55);
  });
  ASSERT_EQ(run(), 0) << said();
  EXPECT_NE(said().find("Safe:  NO. sensor collector stood at its lean end for "), std::string::npos) << said();
}

TEST_F(CorrectMapProgram, IsNotSafeForCylindersThatNoSensorSees) {
  change_session([](json& s) { s["sensors"][0]["cylinder"] = {2, 3, 5}; });
  ASSERT_EQ(run(), 0) << said();
  EXPECT_NE(said().find("Safe:  NO. no sensor sees cylinders 1, 4, which may be leaner than the others."),
            std::string::npos)
      << said();
  EXPECT_NE(said().find("Next:  see all cylinders first"), std::string::npos);
}

TEST_F(CorrectMapProgram, RefusesAMissingSession) {
  fs::remove(at("session.json"));
  expect_refusal({"session.json", "cannot be opened"});
}
TEST_F(CorrectMapProgram, RefusesAnEmptySession) {
  write(at("session.json"), "");
  expect_refusal({"session.json", "empty"});
}
TEST_F(CorrectMapProgram, NamesTheLineOfBrokenJson) {
  write(at("session.json"), "{\n  \"title\": \"x\"\n  \"engine\": {}\n}\n");
  expect_refusal({"session.json, line 3", "comma"});
}
TEST_F(CorrectMapProgram, NamesTheKeyThatIsMisspelt) {
  change_session([](json& s) { s["engine"]["cylindres"] = 5; });
  expect_refusal({"/engine", "cylindres", "known are cylinders"});
}
TEST_F(CorrectMapProgram, NamesTheValueThatIsOutOfRange) {
  change_session([](json& s) { s["banks"][1]["flow_mg_ms"] = -3; });
  expect_refusal({"/banks/1/flow_mg_ms", "-3", "above 0"});
}
TEST_F(CorrectMapProgram, RefusesMoreCylindersThanSixteen) {
  change_session([](json& s) { s["engine"]["cylinders"] = 17; });
  expect_refusal({"/engine/cylinders", "17", "1 to 16"});
}
TEST_F(CorrectMapProgram, RefusesAMissingLog) {
  fs::remove(at("stage.csv"));
  expect_refusal({"stage.csv"});
}
TEST_F(CorrectMapProgram, RefusesAnEmptyLog) {
  write(at("stage.csv"), "");
  expect_refusal({"stage.csv"});
}
TEST_F(CorrectMapProgram, ListsTheColumnsWhenOneIsMissing) {
  std::string text = bytes(at("stage.csv"));
  text.replace(text.find("lambda_collector"), 16, "lambda_collectxr");
  write(at("stage.csv"), text);
  expect_refusal({"stage.csv, line 1", "lambda_collector", "the columns are"});
}

/// The log with one line changed; line 1 is the header.
std::string with_line(std::string text, int line, const std::function<std::string(std::string)>& change) {
  std::size_t begin = 0;
  for (int i = 1; i < line; ++i) begin = text.find('\n', begin) + 1;
  const std::size_t end = text.find('\n', begin);
  return text.replace(begin, end - begin, change(text.substr(begin, end - begin)));
}

TEST_F(CorrectMapProgram, NamesTheLineOfARaggedRow) {
  write(at("stage.csv"), with_line(bytes(at("stage.csv")), 7, [](std::string row) { return row + ",1"; }));
  expect_refusal({"stage.csv, line 7", "cells"});
}
TEST_F(CorrectMapProgram, NamesTheCellThatHoldsText) {
  write(at("stage.csv"),
        with_line(bytes(at("stage.csv")), 9, [](std::string row) { return row.replace(row.find(','), 2, ",x"); }));
  expect_refusal({"stage.csv, line 9, column 2 (rpm)"});
}
TEST_F(CorrectMapProgram, RefusesNotANumberAsTextWhenStrict) {
  change_session([](json& s) { s["strict"] = true; });
  write(at("stage.csv"), with_line(bytes(at("stage.csv")), 9, [](const std::string& row) {
          const std::size_t first = row.find(','), second = row.find(',', first + 1);
          return row.substr(0, first + 1) + "nan" + row.substr(second);
        }));
  expect_refusal({"stage.csv, line 9, column 2 (rpm)", "nan"});
}
TEST_F(CorrectMapProgram, RefusesATimeThatComesTwiceWhenStrict) {
  change_session([](json& s) { s["strict"] = true; });
  const std::string before = [&] {
    std::string kept;
    (void)with_line(bytes(at("stage.csv")), 11, [&](std::string row) { return kept = std::move(row); });
    return kept;
  }();
  write(at("stage.csv"), with_line(bytes(at("stage.csv")), 12, [&](const std::string&) { return before; }));
  expect_refusal({"stage.csv, line 12", "time", "increase"});
}
TEST_F(CorrectMapProgram, RefusesTwoEqualBreakpoints) {
  std::string text = bytes(at("fuel_map.csv"));
  text.replace(text.find("\n1200,"), 6, "\n800,");
  write(at("fuel_map.csv"), text);
  expect_refusal({"fuel_map.csv, line 3", "800"});
}
TEST_F(CorrectMapProgram, RefusesAMapOfAnotherShape) {
  write(at("fuel_map.csv"),
        with_line(bytes(at("fuel_map.csv")), 4, [](const std::string& row) { return row.substr(0, row.rfind(',')); }));
  expect_refusal({"fuel_map.csv, line 4"});
}
TEST_F(CorrectMapProgram, RefusesAMapWithACellThatCannotBeMultiplied) {
  write(at("fuel_map.csv"), with_line(bytes(at("fuel_map.csv")), 4, [](const std::string& row) {
          return row.substr(0, row.find(',')) + ",0" + row.substr(row.find(',', row.find(',') + 1));
        }));
  expect_refusal({"fuel_map.csv", "rpm 1700, throttle_pct 0", "above 0"});
}
TEST_F(CorrectMapProgram, SaysWhyNoReadingCounts) {
  change_session([](json& s) { s["coldest_degC"] = 150; });
  expect_refusal({"stage.csv", "no reading counts", "engine not warm"});
}
TEST_F(CorrectMapProgram, LeavesOutReadingsWithoutALambdaTarget) {
  auto log = bytes(at("stage.csv"));
  change_session([](json& s) { s["columns"]["lambda_target"] = {{"name", "lambda_target"}, {"factor", -1}}; });
  expect_refusal({"stage.csv", "no reading counts", "an input is missing"});
}
TEST_F(CorrectMapProgram, SaysThatASensorIsStuck) {
  change_log([](fettle::log_table& log) { fill(column(log, "lambda_collector"), 0.97); });
  expect_refusal({"stage.csv", "no reading counts", "reading stuck"});
}
TEST_F(CorrectMapProgram, SaysThatASensorIsClippedEverywhere) {
  change_log([](fettle::log_table& log) { fill(column(log, "lambda_collector"), 1.9); });
  expect_refusal({"stage.csv", "no reading counts"});
}
TEST_F(CorrectMapProgram, CallsAnAirFuelRatioByItsName) {
  change_log([](fettle::log_table& log) {
    for (double& lambda : column(log, "lambda_collector")) lambda *= 14.6;
  });
  expect_refusal({"stage.csv", "lambda_collector", "that is an air-fuel ratio, expected lambda", "factor of 0.0"});
}
TEST_F(CorrectMapProgram, CallsALogThatCountsInHundredthsOfTheAxisByItsName) {
  change_log([](fettle::log_table& log) {
    for (double& throttle : column(log, "throttle_pct")) throttle /= 100;
  });
  expect_refusal({"stage.csv", "throttle_pct runs from 0 to 1 in this log, on an axis from 0 to 100", "factor of 100"});
}
TEST_F(CorrectMapProgram, WritesNoMapThatMustNotBeLoadedUnlessItIsAskedTo) {
  change_log([](fettle::log_table& log) {  // a sensor that hardly reads
    auto& lambda = column(log, "lambda_collector");
    for (std::size_t i = 0; i < lambda.size(); ++i)
      lambda[i] *= 1 + 0.004 * (static_cast<double>((i * 7919) % 101) - 50);
  });
  fs::create_directories(at("out"));
  std::ofstream(at("out/session.json")) << "of an earlier run";
  ASSERT_EQ(run("--path given"), 3) << said();
  EXPECT_EQ(said().find("Load:  NOTHING. This map must not be loaded, and none was written"), 0U) << said();
  EXPECT_NE(said().find("! " + at("out/session.json").string() + " is from an earlier run"), std::string::npos);
  EXPECT_NE(said().find("Safe:  NO. the readings scatter by"), std::string::npos) << said();
  EXPECT_FALSE(fs::exists(at("out/corrected_map.csv")));
  EXPECT_NE(bytes(at("out/report.html")).find("Why this map must not be loaded"), std::string::npos);
  EXPECT_FALSE(json::parse(bytes(at("out/summary.json")))["is_safe"].get<bool>());
  ASSERT_EQ(run("--path given --write-anyway"), 3) << said();
  EXPECT_EQ(said().find("Load:  NOTHING. "), 0U) << said();
  EXPECT_TRUE(fs::exists(at("out/corrected_map.csv")));
}
TEST_F(CorrectMapProgram, LeavesCellsThatWereNotDrivenAloneWhenToldTo) {
  ASSERT_EQ(run("--path given --leave-undriven"), 0) << said();
  for (const auto& cell : json::parse(bytes(at("out/summary.json")))["cells"]["not_driven"])
    EXPECT_EQ(cell["gets_pct"].get<double>(), 0);
}
TEST_F(CorrectMapProgram, RefusesSwappedBanks) {
  change_session([](json& s) { std::swap(s["banks"][0]["pulse_column"], s["banks"][1]["pulse_column"]); });
  expect_refusal({"stage.csv", "% of the fuel that the map asks for", "pulse columns, banks"});
}
TEST_F(CorrectMapProgram, CorrectsAcrossATimeGapAsWithoutIt) {
  change_log([](fettle::log_table& log) {  // the logger slept for 20 s and went on
    for (auto& series : log.columns) series.erase(series.begin() + 6000, series.begin() + 8000);
  });
  ASSERT_EQ(run(), 0) << said();
  const json summary = json::parse(bytes(at("out/summary.json")));
  EXPECT_TRUE(summary["settled"].get<bool>());
  EXPECT_NEAR(summary["minutes"].get<double>(), 3 - 20. / 60, 0.01);
  EXPECT_LT(summary["noise_phi"].get<double>(), 0.012);  // the sensor's 0.7 %, and what a short log leaves
  EXPECT_LT(summary["lambda_error_rms_pct"]["map_after"].get<double>(),
            summary["lambda_error_rms_pct"]["map_before"].get<double>());
}
TEST_F(CorrectMapProgram, NamesWhatALogOfOnePointCannotTell) {
  change_log([](fettle::log_table& log) {  // the row at 100 s, again and again, with a little noise of the sensor
    for (auto& series : log.columns)
      if (&series != &column(log, "time_s")) fill(series, series[10000]);
    auto& lambda = column(log, "lambda_collector");
    for (std::size_t i = 0; i < lambda.size(); ++i) lambda[i] = 1 + 0.002 * static_cast<double>((i * 7) % 11) - 0.01;
    fill(column(log, "fuel_cut"), 0);
  });
  ASSERT_EQ(run(), 0) << said();
  const json summary = json::parse(bytes(at("out/summary.json")));
  for (const auto& parameter : summary["parameters"])
    EXPECT_NE(said().find(parameter["name"].get<std::string>() + " could not be identified"), std::string::npos)
        << parameter << said();
  EXPECT_NE(said().find("to identify it, "), std::string::npos);
  std::size_t driven = 0;
  for (const char* state : {"corrected", "safe_part", "left_alone"}) driven += summary["cells"][state].size();
  EXPECT_LE(driven, 4U);
}

TEST_F(CorrectMapProgram, DoesNotReadASensorThatWasNotFitted) {
  ASSERT_EQ(run("--path given"), 0) << said();
  const std::string alone = bytes(at("out/corrected_map.csv")), plan = bytes(at("out/drive_next.csv"));
  change_log([](fettle::log_table& log) {  // what the input holds with nothing on it
    log.names.push_back("left_over");
    log.columns.emplace_back(log.rows());
    for (std::size_t i = 0; i < log.rows(); ++i)
      log.columns.back()[i] = 0.8 + 0.001 * static_cast<double>((i * 7) % 11);
  });
  change_session([](json& s) {
    auto pipe = s["sensors"][0];
    pipe["name"] = "pipe 1";
    pipe["column"] = "left_over";
    pipe["cylinder"] = 1;
    s["sensors"].insert(s["sensors"].begin(), pipe);
    s["logs"][0]["assignment"]["pipe 1"] = nullptr;
  });
  ASSERT_EQ(run("--path given"), 0) << said();
  EXPECT_EQ(bytes(at("out/corrected_map.csv")), alone);
  EXPECT_EQ(bytes(at("out/drive_next.csv")), plan);
  const json summary = json::parse(bytes(at("out/summary.json")));
  EXPECT_EQ(summary["readings"][0]["counts"].get<int>(), 0);
  EXPECT_GT(summary["lambda_error_rms_pct"]["read_before"].get<double>(), 0);  // of the sensor that was fitted

  change_log([](fettle::log_table& log) {  // its column need not be there either
    log.names.pop_back();
    log.columns.pop_back();
  });
  EXPECT_EQ(run("--path given"), 0) << said();
}
TEST_F(CorrectMapProgram, ReadsASensorWhereItSatDuringTheLog) {
  change_session([](json& s) {
    s["sensors"][0]["cylinder"] = 4;
    s["sensors"][0]["calibrated"] = true;  // as it is without a word behind the collector
  });
  ASSERT_EQ(run("--path given"), 0) << said();
  const std::string in_a_pipe = bytes(at("out/corrected_map.csv"));
  change_session([](json& s) {
    s["sensors"][0]["cylinder"] = 0;
    s["logs"][0]["assignment"][s["sensors"][0]["name"].get<std::string>()] = 4;
  });
  ASSERT_EQ(run("--path given"), 0) << said();
  EXPECT_EQ(bytes(at("out/corrected_map.csv")), in_a_pipe);
}
TEST_F(CorrectMapProgram, NamesTheColumnThatIsMisspelt) {
  change_session([](json& s) { s["columns"]["air_kpa"]["name"] = "air_kPa"; });
  expect_refusal({"session.json: /columns has \"air_kpa\"", "known are time_s, rpm, throttle_pct, pulse_primary_ms",
                  "lambda_collector", "air_kPa"});
}
TEST_F(CorrectMapProgram, RefusesALogThatIsNamedTwice) {
  fs::create_symlink("stage.csv", at("again.csv"));
  for (const char* name : {"stage.csv", "./stage.csv", "again.csv"}) {
    change_session([&](json& s) { s["logs"] = {{{"file", "stage.csv"}}, {{"file", name}}}; });
    expect_refusal({"session.json: /logs/1/file is the same file as /logs/0", "each log once"});
  }
}
TEST_F(CorrectMapProgram, NamesTheTimeThatIsInAnotherUnit) {
  change_log([](fettle::log_table& log) {
    for (double& time : column(log, "time_s")) time = std::round(1000 * time);
  });
  expect_refusal({"stage.csv: the median step of time_s is 10 s", "0.5 s or less", "factor", "0.001 for milliseconds"});
  change_session([](json& s) { s["columns"]["time_s"]["factor"] = 0.001; });
  EXPECT_EQ(run("--path given"), 0) << said();
}
TEST_F(CorrectMapProgram, RefusesALogTooSlowToFollowTheGas) {
  change_log([](fettle::log_table& log) {
    for (auto& series : log.columns) {
      for (std::size_t i = 0; 100 * i < series.size(); ++i) series[i] = series[100 * i];
      series.resize(series.size() / 100);
    }
  });
  expect_refusal({"stage.csv: the median step of time_s is 1 s", "log faster"});
}
TEST_F(CorrectMapProgram, NamesTheSpeedThatWasNotLogged) {
  change_log([](fettle::log_table& log) { fill(column(log, "rpm"), std::nan("")); });
  expect_refusal({"stage.csv", "the column rpm is needed, with values"});
  EXPECT_EQ(said().find("before the log began"), std::string::npos) << said();
}
TEST_F(CorrectMapProgram, SaysNothingOfPulsesWhereNoFuelFlowed) {
  change_log([](fettle::log_table& log) {  // the logger ran on in the paddock
    const double end = column(log, "time_s").back();
    for (int i = 0; i < 200; ++i) {
      for (auto& series : log.columns) series.push_back(series.back());
      column(log, "time_s").back() = end + 30 + 0.01 * i;
      for (const char* still : {"rpm", "pulse_primary_ms", "pulse_secondary_ms"}) column(log, still).back() = 0;
    }
  });
  ASSERT_EQ(run("--path given"), 0) << said();
  EXPECT_EQ(said().find("the pulses deliver"), std::string::npos) << said();
}

TEST_F(CorrectMapProgram, PlansTheNextDriveByTheSessionsUsage) {
  auto usage = fettle::read_map_csv(at("fuel_map.csv"));
  for (double& value : usage.table.values()) value = 0;
  usage.table.values()[5 * 13 + 6] = 1;  // only one point matters
  fettle::write_map_csv(at("usage.csv"), usage);
  change_session([](json& s) { s["usage_map"]["file"] = "usage.csv"; });
  ASSERT_EQ(run(), 0) << said();
  const std::string plan = bytes(at("out/drive_next.csv"));
  EXPECT_EQ(plan.substr(0, plan.find('\n')),
            "rpm,throttle_pct,rpm_to,throttle_pct_to,needs_pct,gets_pct,standard_error_now_pct,"
            "standard_error_after_pct");
  const std::string rpm = std::to_string(std::lround(usage.table.axes()[0].points()[5]));
  EXPECT_EQ(plan.substr(plan.find('\n') + 1, rpm.size() + 1), rpm + ",") << plan;
  EXPECT_NE(bytes(at("out/report.html")).find("Plan of the next drive"), std::string::npos);
}

TEST_F(CorrectMapProgram, PlansAsManyPointsAsItIsAskedTo) {
  const auto legs = [&](const std::string& words) {
    EXPECT_EQ(run("--path given " + words), 0) << said();
    const std::string plan = bytes(at("out/drive_next.csv"));
    return std::count(plan.begin(), plan.end(), '\n') - 1;
  };
  EXPECT_EQ(legs("--visits 1"), 1);
  EXPECT_GT(legs(""), 10);
  EXPECT_NE(said().find("more: drive_next.csv lists them"), std::string::npos) << said();
  EXPECT_EQ(run("--visits 0"), 2);
}

TEST_F(CorrectMapProgram, WarnsBeforeItSendsTheCarWhereTheMapStaysLean) {
  change_session([](json& s) { s["one_pass"]["richer_pct"] = 2; });
  ASSERT_EQ(run("--path given"), 0) << said();
  const json lean = json::parse(bytes(at("out/summary.json")))["cells"]["still_lean"];
  ASSERT_FALSE(lean.empty());
  EXPECT_NE(said().find("Safe:  NO. " + std::to_string(lean.size()) + " cells stay lean; the worst, rpm "),
            std::string::npos)
      << said();
  EXPECT_NE(said().find("more fuel and got 2 %."), std::string::npos) << said();
  auto usage = fettle::read_map_csv(at("fuel_map.csv"));
  const auto index = [&](std::size_t axis, const char* name) {
    const auto& points = usage.table.axes()[axis].points();
    return std::find(points.begin(), points.end(), lean[0][name].get<double>()) - points.begin();
  };
  const auto cell = index(0, "rpm") * 13 + index(1, "throttle_pct");
  for (double& value : usage.table.values()) value = 0;
  usage.table.values()[static_cast<std::size_t>(cell)] = 1;  // only this cell matters
  fettle::write_map_csv(at("usage.csv"), usage);
  change_session([](json& s) { s["usage_map"]["file"] = "usage.csv"; });
  ASSERT_EQ(run("--path given"), 0) << said();
  for (const std::string& text : {said().substr(said().find("drive next")), bytes(at("out/report.html"))})
    EXPECT_NE(text.find("stays lean: add fuel by hand before driving there"), std::string::npos) << text;
  std::istringstream plan(bytes(at("out/drive_next.csv")));
  std::string word;
  std::getline(plan, word);  // the header
  for (int column = 0; column < 5; ++column) std::getline(plan, word, ',');
  EXPECT_NEAR(std::stod(word), lean[0]["needs_pct"].get<double>(), 0.001);
}

TEST_F(CorrectMapProgram, SaysInTheReportTooWhatMayGoLeanerStill) {
  change_log([](fettle::log_table& log) {  // everything reads rich
    for (double& lambda : column(log, "lambda_collector")) lambda *= 0.9;
  });
  ASSERT_EQ(run("--path given"), 0) << said();
  const std::size_t begin = said().find("load, confirm, drive again: ");
  ASSERT_NE(begin, std::string::npos) << said();
  const std::string sentence = said().substr(begin, said().find('\n', begin) - begin);
  EXPECT_NE(sentence.find("may go leaner still, by 5 % in one pass"), std::string::npos) << sentence;
  EXPECT_NE(bytes(at("out/report.html")).find(sentence), std::string::npos);
}

TEST_F(CorrectMapProgram, RefusesAUsageMapThatDoesNotFit) {
  change_session([](json& s) { s["usage_map"]["file"] = "usage.csv"; });
  expect_refusal({"usage.csv"});
  auto usage = fettle::read_map_csv(at("fuel_map.csv"));
  usage.axis_names[1] = "pressure_kPa";
  fettle::write_map_csv(at("usage.csv"), usage);
  expect_refusal({"usage.csv", "pressure_kPa", "expected those of the map, rpm, throttle_pct"});
  write(at("usage.csv"), "rpm/throttle_pct,0,100\n1000,1,1\n9000,1,1\n");
  expect_refusal({"usage.csv", "the breakpoints of rpm are 1000, 9000"});
  usage = fettle::read_map_csv(at("fuel_map.csv"));
  usage.table.values()[0] = -2;
  fettle::write_map_csv(at("usage.csv"), usage);
  expect_refusal({"usage.csv", "rpm 800, throttle_pct 0", "-2", "0 or more"});
  for (double& value : usage.table.values()) value = 0;
  fettle::write_map_csv(at("usage.csv"), usage);
  expect_refusal({"usage.csv", "every cell holds 0"});
}

TEST_F(CorrectMapProgram, RefusesAFolderThatCannotBeWritten) {
  write(at("out"), "a file where the folder should be");
  EXPECT_EQ(run(), 2);
  EXPECT_NE(said().find("not a folder"), std::string::npos) << said();
  EXPECT_EQ(bytes(at("out")), "a file where the folder should be");
}
TEST_F(CorrectMapProgram, DoesNotWriteOverWhatItReads) {
  ASSERT_EQ(run("--path given"), 0) << said();
  std::size_t results = 0;
  for (const auto& result : fs::directory_iterator(at("out"))) {  // none may be the map of a session written there
    change_session([&](json& s) { s["map"]["file"] = "out/" + result.path().filename().string(); });
    const std::string before = bytes(result.path());
    EXPECT_EQ(run("--path given"), 2);
    EXPECT_NE(said().find(result.path().string() + ": is read here"), std::string::npos) << said();
    EXPECT_EQ(bytes(result.path()), before);
    ++results;
  }
  EXPECT_EQ(results, 9U);
}
TEST_F(CorrectMapProgram, RoundsTowardsTheMapAndLeavesOtherCellsAlone) {
  auto base = fettle::read_map_csv(at("fuel_map.csv"));
  for (double& value : base.table.values()) value = std::nearbyint(1e7 * value) / 1e7 + 3e-7;  // held to seven decimals
  fettle::write_map_csv(at("fuel_map.csv"), base);
  ASSERT_EQ(run("--path given"), 0) << said();
  const auto corrected = fettle::read_map_csv(at("out/corrected_map.csv"));
  const json cells = json::parse(bytes(at("out/summary.json")))["cells"];
  std::size_t same = 0;
  for (std::size_t k = 0; k < base.table.size(); ++k) {
    const double before = base.table.values()[k], after = corrected.table.values()[k];
    EXPECT_GE(after, before * (1 - 0.05)) << k;
    EXPECT_LE(after, before * (1 + 0.15)) << k;
    same += after == before;
  }
  std::size_t unchanged = 0;
  for (const auto& [state, list] : cells.items())
    for (const auto& cell : list) unchanged += cell["gets_pct"].get<double>() == 0;
  EXPECT_EQ(same, unchanged);
  EXPECT_GT(unchanged, 0U);
}
TEST_F(CorrectMapProgram, ExplainsItsArguments) {
  EXPECT_EQ(run("--path guessed"), 2);
  EXPECT_EQ(said(), "correct_map: --path: guessed not in {found,given}; --help lists what there is\n");
  EXPECT_EQ(run("--path 1"), 2);  // a word, not the number behind it
}
TEST_F(CorrectMapProgram, HelpIsPlainTextInEveryProgram) {
  for (const char* program :
       {VIRTUAL_ENGINE_PROGRAM, CORRECT_MAP_PROGRAM, STAGE_BANKS_PROGRAM, TRIM_CYLINDERS_PROGRAM}) {
    ASSERT_EQ(shell(std::string(program) + " --help >" + at("said").string()), 0) << program;
    for (const char c : said()) EXPECT_TRUE(c == '\n' || (c >= ' ' && c <= '~')) << program << ", " << int{c};
  }
}

}  // namespace correct_map_program_test

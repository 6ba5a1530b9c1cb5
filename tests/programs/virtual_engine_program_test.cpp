// SPDX-License-Identifier: MIT
#include <gtest/gtest.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "fettle/io.hpp"
#include "virtual_engine/maps.hpp"
#include "virtual_engine/session.hpp"

namespace virtual_engine_program_test {

namespace fs = std::filesystem;
using namespace virtual_engine;

/// A folder of this test alone, gone at its end.
class VirtualEngineProgram : public testing::Test {
 protected:
  void SetUp() override {
    folder_ = fs::path(testing::TempDir()) / ("virtual_engine_" + std::to_string(getpid()));
    fs::remove_all(folder_);
    fs::create_directories(folder_);
  }
  void TearDown() override { fs::remove_all(folder_); }

  [[nodiscard]] int run(const std::string& words) const {
    const int status = std::system(
        (std::string(VIRTUAL_ENGINE_PROGRAM) + " " + words + " > " + (folder_ / "said").string() + " 2>&1").c_str());
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
  }
  [[nodiscard]] static std::string bytes(const fs::path& path) {
    std::ifstream in(path, std::ios::binary);
    EXPECT_TRUE(in) << path;
    return {std::istreambuf_iterator<char>(in), {}};
  }
  [[nodiscard]] fs::path at(const std::string& name) const { return folder_ / name; }

 private:
  fs::path folder_;
};

TEST_F(VirtualEngineProgram, WritesTheSameFilesForTheSameSeed) {
  const std::string words = " --seed 12 --minutes 0.5 --drive stage dyno pull --cylinder-sensors";
  ASSERT_EQ(run("--out " + at("a").string() + words), 0) << bytes(at("said"));
  ASSERT_EQ(run("--out " + at("b").string() + words), 0);
  for (const char* name : {"session.json", "fuel_map.csv", "share_map.csv", "stage.csv", "dyno.csv", "pull.csv",
                           "truth/truth.json", "truth/fuel_map.csv", "truth/air_map.csv"}) {
    EXPECT_EQ(bytes(at("a") / name), bytes(at("b") / name)) << name;
    EXPECT_FALSE(bytes(at("a") / name).empty()) << name;
  }
}

TEST_F(VirtualEngineProgram, WritesWhatTheReadersRead) {
  ASSERT_EQ(run("--out " + at("a").string() + " --seed 12 --minutes 0.5"), 0) << bytes(at("said"));
  const engine e = engine::from_seed(12);
  EXPECT_EQ(fettle::read_map_csv(at("a") / "fuel_map.csv").table, base_fuel_map(e, 12));
  EXPECT_EQ(fettle::read_map_csv(at("a") / "share_map.csv").table, share_map());
  const auto truth = fettle::read_map_csv(at("a") / "truth/fuel_map.csv");
  EXPECT_EQ(truth.axis_names, (std::vector<std::string>{"rpm", "throttle_pct"}));
  EXPECT_NEAR(truth.table.values()[100], ideal_fuel_map(e).values()[100], 1e-5);

  const auto session = nlohmann::json::parse(bytes(at("a") / "session.json"));
  std::vector<fettle::log_channel> channels;
  for (const auto& bank : session.at("banks")) {
    const auto column = bank.at("pulse_column").get<std::string>();
    channels.push_back({.name = column, .file_name = column});
  }
  const auto column = session.at("sensors").at(0).at("column").get<std::string>();
  channels.push_back({.name = column, .file_name = column});
  channels.push_back({.name = "time_s", .file_name = "time_s"});
  const auto log = fettle::read_log_csv(at("a") / session.at("logs").at(0).at("file").get<std::string>(), channels);
  EXPECT_EQ(log.rows(), 3000U);
  EXPECT_EQ(session.at("columns").size(), 0U);
}

TEST_F(VirtualEngineProgram, WritesThePhysicsThatItAdds) {
  const std::string words = " --seed 12 --minutes 0.1";
  ASSERT_EQ(run("--out " + at("plain").string() + words), 0) << bytes(at("said"));
  ASSERT_EQ(run("--out " + at("more").string() + words + " --physics pipes,lag"), 0) << bytes(at("said"));
  EXPECT_NE(bytes(at("plain") / "stage.csv"), bytes(at("more") / "stage.csv"));
  EXPECT_EQ(bytes(at("plain") / "session.json"), bytes(at("more") / "session.json")) << "no tuner sees it";
  EXPECT_EQ(bytes(at("plain") / "truth/fuel_map.csv"), bytes(at("more") / "truth/fuel_map.csv"));
  const auto truth = nlohmann::json::parse(bytes(at("more") / "truth/truth.json"));
  EXPECT_TRUE(truth.at("physics").contains("pipes") && truth.at("physics").contains("lag"));
}

TEST_F(VirtualEngineProgram, RefusesWhatItCannotDoAndWritesNothing) {
  for (const char* words :
       {"--drive boat", "--rate 300", "--minutes 0", "--seed x", "--known perhaps", "--physics ghosts"}) {
    EXPECT_EQ(run("--out " + at("none").string() + " " + words), 2) << words;
    EXPECT_FALSE(fs::exists(at("none"))) << words;
    EXPECT_FALSE(bytes(at("said")).empty());
  }
  EXPECT_EQ(run("--minutes 1"), 2);
  EXPECT_EQ(run("--out /dev/null/folder --minutes 0.1"), 2);
}

TEST(VirtualEngineSession, TellsTheTruthOrAGuessWithinAQuarter) {
  const engine e = engine::from_seed(3);
  const auto exact = session_json(e, e.bank, {"stage.csv"}, true, knowledge::exact, 3);
  const auto guess = session_json(e, e.bank, {"stage.csv"}, true, knowledge::estimate, 3);
  EXPECT_EQ(exact["path"]["revolutions"], e.revolutions);
  EXPECT_EQ(exact["banks"][1]["film"]["share"], e.bank[1].film.share);
  EXPECT_EQ(exact["sensors"].size(), 6U);
  EXPECT_EQ(exact["sensors"][4]["cylinder"], 4U);
  EXPECT_EQ(exact["sensors"][0]["lag_s"], e.sensor[0].lag_s);
  EXPECT_EQ(exact["banks"][0]["dead_time"]["ms"].size(), exact["banks"][0]["dead_time"]["battery_v"].size());
  const auto ratio = [&](auto&& value) {
    return value(guess).template get<double>() / value(exact).template get<double>();
  };
  std::vector<double> ratios;
  ratios.push_back(ratio([](const auto& s) { return s["path"]["revolutions"]; }));
  for (std::size_t b = 0; b < banks; ++b)
    for (const char* name : {"share", "time_s"})
      ratios.push_back(ratio([&](const auto& s) { return s["banks"][b]["film"][name]; }));
  for (std::size_t i = 0; i < 6; ++i)
    for (const char* name : {"latency_s", "lag_s", "pipe_gas_mass_g"})
      ratios.push_back(ratio([&](const auto& s) { return s["sensors"][i][name]; }));
  bool off = false;
  for (const double r : ratios) {
    EXPECT_NEAR(r, 1, 0.26);  // a quarter, and four decimals
    off = off || std::abs(r - 1) > 0.1;
  }
  EXPECT_TRUE(off);
}

}  // namespace virtual_engine_program_test

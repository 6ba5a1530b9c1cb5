// SPDX-License-Identifier: MIT
#include <gtest/gtest.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <functional>
#include <iterator>
#include <nlohmann/json.hpp>
#include <sstream>
#include <string>
#include <utility>
#include <vector>

#include "compare_pulls/air.hpp"
#include "compare_pulls/pull.hpp"
#include "fettle/error.hpp"
#include "fettle/fuel/power_correction.hpp"
#include "fettle/io/map_csv.hpp"

namespace compare_pulls_program_test {

namespace fs = std::filesystem;
using nlohmann::json;

std::string text_of(const fs::path& path) {
  std::ifstream in(path);
  return {std::istreambuf_iterator<char>(in), {}};
}

/// Runs a program; its exit code and what it wrote to standard error.
std::pair<int, std::string> run(const std::string& program, const std::string& words, const fs::path& folder) {
  const fs::path errors = folder / "errors.txt";
  const int status = std::system(
      ('"' + program + "\" " + words + " > \"" + (folder / "said.txt").string() + "\" 2> \"" + errors.string() + '"')
          .c_str());
  return {WIFEXITED(status) ? WEXITSTATUS(status) : -1, text_of(errors)};
}

/// The invented car's sessions and logs, made once.
class CarSessions : public testing::Test {
 protected:
  static void SetUpTestSuite() {
    made_ = fs::temp_directory_path() / ("fettle_car_" + std::to_string(::getpid()));
    fs::create_directories(made_);
    ASSERT_EQ(run(VIRTUAL_ENGINE_PROGRAM, "--car --seed 3 --out " + made_.string(), made_).first, 0);
  }
  static void TearDownTestSuite() { fs::remove_all(made_); }

  [[nodiscard]] static json session(const char* name) { return json::parse(text_of(made_ / name)); }
  /// What a program says to a session changed in one place.
  [[nodiscard]] static std::string refusal(const std::string& program, const char* name,
                                           const std::function<void(json&)>& change) {
    json changed = session(name);
    change(changed);
    std::ofstream(made_ / "changed.json") << changed.dump();
    const auto [code, errors] =
        run(program, (made_ / "changed.json").string() + " --out " + (made_ / "refused").string(), made_);
    EXPECT_EQ(code, 2);
    EXPECT_FALSE(fs::exists(made_ / "refused"));
    return errors;
  }
  static inline fs::path made_;
};

class ComparePulls : public CarSessions {};
class PlanShifts : public CarSessions {};

bool holds(const json& estimate, double truth) {
  return estimate["interval_95"][0] <= truth && truth <= estimate["interval_95"][1];
}

TEST_F(ComparePulls, FindsWhatTheChangeDid) {
  const json truth = session("truth/car.json");
  for (const char* name : {"dyno", "road"}) {
    const fs::path out = made_ / name;
    const auto [code, errors] =
        run(COMPARE_PULLS_PROGRAM, (made_ / (std::string(name) + "_session.json")).string() + " --out " + out.string(),
            made_);
    ASSERT_EQ(code, 0) << errors;
    const json summary = json::parse(text_of(out / "summary.json"));
    EXPECT_TRUE(holds(summary["gain_pct"], truth["gain_pct"])) << name << summary["gain_pct"];
    EXPECT_TRUE(fs::exists(out / "report.html") && fs::exists(out / "torque.csv"));
    EXPECT_NE(text_of(made_ / "said.txt").find("only on a closed course"), std::string::npos);
    if (std::string(name) == "dyno") continue;
    EXPECT_TRUE(holds(summary["engine_before_kgm2"], truth["engine_before_kgm2"])) << summary["engine_before_kgm2"];
    EXPECT_TRUE(holds(summary["engine_after_kgm2"], truth["engine_after_kgm2"])) << summary["engine_after_kgm2"];
    EXPECT_TRUE(holds(summary["road_load"]["C_Ns2_per_m2"], truth["road_load"]["C_Ns2_per_m2"]));
  }
}

TEST_F(ComparePulls, SaysWhatIsWrongWithASession) {
  const auto says = [](const char* part, const std::function<void(json&)>& change) {
    const std::string errors = refusal(COMPARE_PULLS_PROGRAM, "road_session.json", change);
    EXPECT_NE(errors.find(part), std::string::npos) << part << "\n" << errors;
  };
  says("engine_kgm2 is -0.1", [](json& s) { s["car"]["engine_kgm2"] = -0.1; });
  says("expected ratios that fall", [](json& s) { s["car"]["gear_ratios"] = {2.6, 2.0, 2.1, 1.4, 1.2, 1.0}; });
  says("speed and rpm are those of gear 1, but the session says gear 2",
       [](json& s) { s["before"]["sets"][0][0]["gear"] = 2; });
  says("/after/sets/0/0/file is named a second time",
       [](json& s) { s["after"]["sets"][0][0] = s["before"]["sets"][0][0]; });
  says("/coast_downs/1/file is named a second time", [](json& s) { s["coast_downs"][1] = s["coast_downs"][0]; });
  says("/before/sets/4 is empty; expected at least one pull",
       [](json& s) { s["before"]["sets"].push_back(json::array()); });
  says("is \"outward\", expected one of out, back",
       [](json& s) { s["before"]["sets"][0][0]["direction"] = "outward"; });
  says("has 1 pull; expected two or more",
       [](json& s) { s["before"]["sets"] = json::array({json::array({s["before"]["sets"][0][0]})}); });
  says("are all in one gear", [](json& s) {
    for (const char* state : {"before", "after"}) {
      json pulls = json::array();
      for (const auto& set : s[state]["sets"])
        for (const auto& pull : set)
          if (pull["gear"] == 2) pulls.push_back(pull);
      s[state]["sets"] = json::array({pulls});
    }
  });
  says("all pulls of \"heavy clutch\" went the same way", [](json& s) {
    for (auto& set : s["before"]["sets"])
      for (auto& pull : set)
        if (pull.contains("gear")) pull["direction"] = "out";
  });
  says("has no road load", [](json& s) { s.erase("coast_downs"); });
  says("expected the road load once", [](json& s) { s["car"]["road_load"] = {{"A_N", 130}, {"C_Ns2_per_m2", 0.4}}; });
  says("names 1 coast-down; expected three", [](json& s) { s["coast_downs"] = json::array({s["coast_downs"][0]}); });
  says("has \"set\", which is not known here", [](json& s) { s["before"]["set"] = 1; });
}

TEST_F(ComparePulls, NeedsACarForCoastDownsOnADynamometer) {
  const std::string errors = refusal(COMPARE_PULLS_PROGRAM, "dyno_session.json",
                                     [](json& s) { s["coast_downs"] = session("road_session.json")["coast_downs"]; });
  EXPECT_NE(errors.find("/coast_downs needs \"car\""), std::string::npos) << errors;
}

/// Rewrites a log row by row.
void rewrite(const fs::path& from, const fs::path& to, const std::function<std::string(int, const std::string&)>& row) {
  std::istringstream in(text_of(from));
  std::ofstream out(to);
  std::string line;
  for (int i = 0; std::getline(in, line); ++i) out << (i == 0 ? line : row(i, line)) << '\n';
}

TEST_F(ComparePulls, RefusesMixedGearsAndLostGrip) {
  const std::string first = session("road_session.json")["before"]["sets"][0][0]["file"];
  const auto with_speed = [](const std::function<double(int)>& factor) {
    return [factor](int i, const std::string& line) {
      std::istringstream cells(line);
      std::string time, rpm, speed, rest;
      std::getline(cells, time, ',');
      std::getline(cells, rpm, ',');
      std::getline(cells, speed, ',');
      std::getline(cells, rest);
      return time + ',' + rpm + ',' + std::to_string(std::stod(speed) * factor(i)) + ',' + rest;
    };
  };
  const auto says = [&](const char* part, const std::function<double(int)>& factor) {
    rewrite(made_ / first, made_ / "bent.csv", with_speed(factor));
    const std::string errors = refusal(COMPARE_PULLS_PROGRAM, "road_session.json",
                                       [](json& s) { s["before"]["sets"][0][0]["file"] = "bent.csv"; });
    EXPECT_NE(errors.find(part), std::string::npos) << errors;
  };
  says("in gear 2, not in gear 1; expected one gear per pull", [](int i) { return i > 90 ? 1.3 : 1.0; });
  says("the driven wheels turn", [](int i) { return i % 5 == 0 ? 0.87 : 1.0; });
  std::ofstream(made_ / "bent.csv") << "time_s,rpm,speed_kmh\n0,4000,60\n0.01,4010,60.1\n";
  const std::string errors = refusal(COMPARE_PULLS_PROGRAM, "road_session.json",
                                     [](json& s) { s["before"]["sets"][0][0]["file"] = "bent.csv"; });
  EXPECT_NE(errors.find("full throttle lasts 2 rows and 10 rpm; expected at least 20 rows"), std::string::npos)
      << errors;
}

TEST_F(ComparePulls, ReportsInertiaWithoutAStretchToTime) {
  json known = session("dyno_session.json");
  known["car"] = session("road_session.json")["car"];
  known["before"]["engine_kgm2"] = 0.115;
  known["after"]["engine_kgm2"] = 0.09;
  std::ofstream(made_ / "known.json") << known.dump();
  const fs::path out = made_ / "known";
  const auto [code, errors] =
      run(COMPARE_PULLS_PROGRAM, (made_ / "known.json").string() + " --out " + out.string(), made_);
  ASSERT_EQ(code, 0) << errors;
  const std::string report = text_of(out / "report.html");
  EXPECT_NE(report.find("What the change of inertia is worth"), std::string::npos);
  EXPECT_EQ(report.find("0 to 0 km/h"), std::string::npos);
}

// Engine speed sampled in every third row only, and not in the first: the gaps are filled, no row is lost.
TEST_F(ComparePulls, FillsGapsOfTheEngineSpeed) {
  json sparse = session("dyno_session.json");
  int count = 0;
  for (const char* state : {"before", "after"})
    for (auto& set : sparse[state]["sets"])
      for (auto& pull : set) {
        const std::string from = pull["file"], to = "sparse_" + std::to_string(count++) + ".csv";
        rewrite(made_ / from, made_ / to, [](int i, const std::string& line) {
          const std::size_t first = line.find(','), second = line.find(',', first + 1);
          return i % 3 == 0 ? line : line.substr(0, first + 1) + line.substr(second);
        });
        pull["file"] = to;
      }
  std::ofstream(made_ / "sparse.json") << sparse.dump();
  const fs::path out = made_ / "sparse";
  const auto [code, errors] =
      run(COMPARE_PULLS_PROGRAM, (made_ / "sparse.json").string() + " --out " + out.string(), made_);
  ASSERT_EQ(code, 0) << errors;
  const json summary = json::parse(text_of(out / "summary.json"));
  EXPECT_TRUE(holds(summary["gain_pct"], session("truth/car.json")["gain_pct"])) << summary["gain_pct"];
}

/// Two pulls before and two after, in the air given.
std::vector<compare_pulls::pull> pulls_in(const compare_pulls::pull_air& before, const compare_pulls::pull_air& after) {
  std::vector<compare_pulls::pull> pulls(4);
  for (std::size_t i = 0; i < pulls.size(); ++i) {
    pulls[i].file = "pull " + std::to_string(i);
    pulls[i].air = i < 2 ? before : after;
  }
  return pulls;
}

// Humidity or air in some pulls only: a correction of those alone would be taken for a gain, or a loss, of 2 to 4 %.
TEST(CorrectForAir, TreatsAllPullsAlike) {
  const compare_pulls::settings settings;
  const compare_pulls::pull_air dry{.kpa = 98, .degc = 20}, humid{98, 20, 95}, none;
  auto half = pulls_in(humid, dry);
  const auto cautions = correct_for_air(settings, half);
  ASSERT_EQ(cautions.size(), 1U);
  EXPECT_EQ(cautions[0].find("Only 2 of 4 pulls have humidity_pct, so humidity is left out"), 0U) << cautions[0];
  for (const auto& p : half) EXPECT_DOUBLE_EQ(p.air_factor, fettle::iso_1585_factor<double>({98, 20}));
  auto all = pulls_in(humid, humid);
  EXPECT_TRUE(correct_for_air(settings, all).empty());
  EXPECT_GT(all[0].air_factor, half[0].air_factor * 1.02);
  auto bare = pulls_in(none, none);
  EXPECT_EQ(correct_for_air(settings, bare).size(), 1U);
  EXPECT_EQ(bare[0].air_factor, 1);
  auto mixed = pulls_in(dry, none);
  try {
    (void)correct_for_air(settings, mixed);
    FAIL() << "mixed";
  } catch (const fettle::error& problem) {
    EXPECT_EQ(std::string(problem.what()).find("pull 2: has no air_kPa, but pull 0 has; expected it in all"), 0U);
  }
}

TEST(CorrectForAir, SaysWhereTheRuleDoesNotHold) {
  auto outside = pulls_in({.kpa = 88, .degc = 25}, {.kpa = 97, .degc = 25});  // (99/88)^1.2 = 1.152
  const auto cautions = correct_for_air({}, outside);
  ASSERT_EQ(cautions.size(), 1U);
  EXPECT_NE(cautions[0].find("run from 1.025 to 1.152, and 2 of 4 lie outside 0.93 to 1.07"), std::string::npos)
      << cautions[0];
}

TEST(RequireHumidity, IsRelative) {
  fettle::log_table log{.names = {"time_s", "humidity_pct"}, .columns = {{0, 1.5}, {40, -300}}};
  try {
    compare_pulls::detail::require_humidity(log, "a.csv");
    FAIL() << "-300";
  } catch (const fettle::error& problem) {
    EXPECT_STREQ(problem.what(), "a.csv: humidity_pct is -300 at 1.5 s, expected relative humidity from 0 to 100");
  }
  log.columns[1] = {std::nan(""), 100};
  EXPECT_NO_THROW(compare_pulls::detail::require_humidity(log, "a.csv"));
}

TEST_F(PlanShifts, WritesMapsThatReadBackAndKeepsTheGuard) {
  const fs::path out = made_ / "shifts";
  const auto [code, errors] =
      run(PLAN_SHIFTS_PROGRAM, (made_ / "shift_session.json").string() + " --out " + out.string(), made_);
  ASSERT_EQ(code, 0) << errors;
  const json summary = json::parse(text_of(out / "summary.json"));
  EXPECT_EQ(summary["up"].size(), 5U);
  for (const auto& up : summary["up"]) EXPECT_LT(up["rpm_after"], up["rpm"]);
  EXPECT_GT(summary["blips"]["in_time"], 20);
  const json guard = session("shift_session.json")["blip"]["throttle_guard"];
  const auto map = fettle::read_map_csv(out / "blip_throttle_pct.csv", fettle::empty_cells::are_holes);
  ASSERT_EQ(map.axis_names, (std::vector<std::string>{"gear", "rpm"}));
  const auto& rpm = map.table.axes()[1].points();
  for (std::size_t cell = 0; cell < map.table.size(); ++cell) {
    const double pct = map.table.values()[cell], n = rpm[cell % rpm.size()];
    const double low = guard["throttle_pct"][0], high = guard["throttle_pct"][1];
    if (std::isnan(pct)) continue;
    EXPECT_LE(pct, low + (high - low) * (n - 1000) / 8000 + 0.005) << n;
  }
  for (const char* name : {"blip_time_s.csv", "blip_error_nm.csv", "unload_ms.csv"})
    EXPECT_EQ(fettle::read_map_csv(out / name, fettle::empty_cells::are_holes).axis_names, map.axis_names) << name;
}

TEST_F(PlanShifts, SaysWhatIsWrongWithASession) {
  const auto says = [](const char* part, const std::function<void(json&)>& change) {
    const std::string errors = refusal(PLAN_SHIFTS_PROGRAM, "shift_session.json", change);
    EXPECT_NE(errors.find(part), std::string::npos) << part << "\n" << errors;
  };
  says("/car/engine_kgm2 is -1", [](json& s) { s["car"]["engine_kgm2"] = -1; });
  says("has no \"engine_kgm2\", which is needed", [](json& s) { s["car"].erase("engine_kgm2"); });
  says("expected ratios that fall", [](json& s) { s["car"]["gear_ratios"] = {1.0, 2.0, 3.0}; });
  says("below limit_rpm 9900", [](json& s) { s["limit_rpm"] = 9900; });
  says("expected less than 0, since friction", [](json& s) { s.erase("overrun"); });
  says("Check the signs under /overrun", [](json& s) { s["overrun"]["torque_nm"] = {13, 17, 23, 31, 42}; });
  says("longest_s below wanted_s", [](json& s) { s["blip"]["longest_s"] = 0.05; });
  says("/blip/throttle_guard/throttle_pct is 37 at 1000 rpm, which leaves a blip no throttle",
       [](json& s) { s["throttle"]["closed_pct"] = 40; });
  const auto with_map = [&](const char* part, const char* rows) {
    std::ofstream(made_ / "other_torque.csv") << rows;
    says(part, [](json& s) { s["torque_map"] = "other_torque.csv"; });
  };
  with_map("throttle_pct ends at 1, expected percent", "rpm/throttle_pct,0,1\n1000,-20,200\n9000,-40,200\n");
  with_map("torque at 8800 rpm and full throttle is -7.5 N m, expected more than 0",
           "rpm/throttle_pct,0,100\n1000,-20,90\n9000,-20,-10\n");
  with_map("holds a torque of 1e+09, expected N m", "rpm/throttle_pct,0,100\n1000,-20,1e9\n9000,-20,1e9\n");
}

}  // namespace compare_pulls_program_test

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

#include "fettle/io/map_csv.hpp"

namespace {

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
    const json found = json::parse(text_of(out / "summary.json"));
    EXPECT_TRUE(holds(found["gain_pct"], truth["gain_pct"])) << name << found["gain_pct"];
    EXPECT_TRUE(fs::exists(out / "report.html") && fs::exists(out / "torque.csv"));
    EXPECT_NE(text_of(made_ / "said.txt").find("only on a closed course"), std::string::npos);
    if (std::string(name) == "dyno") continue;
    EXPECT_TRUE(holds(found["engine_before_kgm2"], truth["engine_before_kgm2"])) << found["engine_before_kgm2"];
    EXPECT_TRUE(holds(found["engine_after_kgm2"], truth["engine_after_kgm2"])) << found["engine_after_kgm2"];
    EXPECT_TRUE(holds(found["road_load"]["C_Ns2_per_m2"], truth["road_load"]["C_Ns2_per_m2"]));
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
  const json found = json::parse(text_of(out / "summary.json"));
  EXPECT_TRUE(holds(found["gain_pct"], session("truth/car.json")["gain_pct"])) << found["gain_pct"];
}

/// Copies every log of the dyno session with its rows changed and says what comes of it: exit code, errors, folder.
class ComparePullsAir : public CarSessions {
 protected:
  using row_change = std::function<std::string(const std::string& row, bool is_header)>;

  struct outcome {
    int code;
    std::string errors;
    json summary;
  };
  [[nodiscard]] static outcome changed(const row_change& before, const row_change& after) {
    json session = CarSessions::session("dyno_session.json");
    for (const char* state : {"before", "after"})
      for (auto& set : session[state]["sets"])
        for (auto& pull : set) {
          const std::string from = pull["file"], to = "air_" + from;
          std::istringstream in(text_of(made_ / from));
          std::ofstream out(made_ / to);
          std::string line;
          for (bool is_header = true; std::getline(in, line); is_header = false)
            out << (std::string(state) == "before" ? before : after)(line, is_header) << '\n';
          pull["file"] = to;
        }
    std::ofstream(made_ / "air.json") << session.dump();
    const fs::path out = made_ / "air";
    fs::remove_all(out);
    const auto [code, errors] =
        run(COMPARE_PULLS_PROGRAM, (made_ / "air.json").string() + " --out " + out.string(), made_);
    return {code, errors, code == 0 ? json::parse(text_of(out / "summary.json")) : json()};
  }
  [[nodiscard]] static std::string same(const std::string& row, bool) { return row; }
  [[nodiscard]] static row_change humid(const std::string& pct) {
    return [pct](const std::string& row, bool is_header) { return row + ',' + (is_header ? "humidity_pct" : pct); };
  }
  /// The columns are time_s, rpm, torque_nm, throttle_pct, air_kPa, air_degC, coolant_degC.
  [[nodiscard]] static std::string without_air(const std::string& row, bool) {
    std::size_t end = 0;
    for (int i = 0; i < 4; ++i) end = row.find(',', end) + 1;
    return row.substr(0, end - 1);
  }
};

// Humidity in some pulls only: a correction of those alone would be taken for a gain or a loss of 2 to 4 %.
TEST_F(ComparePullsAir, IsCorrectedAlikeInAllPulls) {
  const auto plain = changed(same, same), half = changed(humid("95"), same), none = changed(without_air, without_air);
  ASSERT_EQ(half.code, 0) << half.errors;
  EXPECT_EQ(half.summary["gain_pct"], plain.summary["gain_pct"]);
  EXPECT_NE(half.summary["cautions"].dump().find("humidity is left out of the air correction of all"),
            std::string::npos);
  EXPECT_EQ(none.summary["air_factor"], (json{1.0, 1.0}));
  EXPECT_NE(none.summary["cautions"].dump().find("Torque is not corrected for the air"), std::string::npos);
  const auto mixed = changed(same, without_air);
  EXPECT_EQ(mixed.code, 2);
  EXPECT_NE(mixed.errors.find("has no air_kPa, but "), std::string::npos) << mixed.errors;
}

TEST_F(ComparePullsAir, IsRefusedWhereItCannotBeAndJudgedWhereTheRuleDoesNotHold) {
  for (const char* pct : {"-300", "100.5"}) {
    const auto impossible = changed(humid(pct), humid(pct));
    EXPECT_EQ(impossible.code, 2);
    EXPECT_NE(impossible.errors.find(std::string("humidity_pct is ") + pct + " at 0 s, expected"), std::string::npos)
        << impossible.errors;
  }
  const auto high_up = [](const std::string& row, bool is_header) {
    return without_air(row, is_header) + (is_header ? ",air_kPa,air_degC" : ",88,25");
  };
  const auto outside = changed(high_up, high_up);  // (99/88)^1.2 = 1.152
  EXPECT_NE(outside.summary["cautions"].dump().find("from 1.152 to 1.152"), std::string::npos) << outside.summary;
}

TEST_F(PlanShifts, WritesMapsThatReadBackAndKeepsTheGuard) {
  const fs::path out = made_ / "shifts";
  const auto [code, errors] =
      run(PLAN_SHIFTS_PROGRAM, (made_ / "shift_session.json").string() + " --out " + out.string(), made_);
  ASSERT_EQ(code, 0) << errors;
  const json found = json::parse(text_of(out / "summary.json"));
  EXPECT_EQ(found["up"].size(), 5U);
  for (const auto& up : found["up"]) EXPECT_LT(up["rpm_after"], up["rpm"]);
  EXPECT_GT(found["blips"]["in_time"], 20);
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
}

}  // namespace

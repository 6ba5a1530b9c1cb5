// SPDX-License-Identifier: MIT
#include "common/session/read_session.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <filesystem>
#include <string>
#include <utility>
#include <vector>

#include "common/session/channels.hpp"
#include "common/session/check_units.hpp"
#include "common/session/json_reader.hpp"
#include "common/session/judge_scatter.hpp"
#include "common/session/next_session.hpp"
#include "fettle/map/dynamic_table.hpp"
#include "io/scratch.hpp"

namespace read_session_test {

[[nodiscard]] std::string refusal_of(const std::string& text) {
  const scratch::folder here;
  return scratch::refusal_in(here, [&] { (void)session::read_session(here.file("s.json", text)); });
}

TEST(ReadSessionRefuses, InOnePlainLineWhateverTheFileHolds) {
  EXPECT_EQ(refusal_of(R"({"a\nb\u001b[2J": 1})").substr(0, 42), "s.json: the file has \"a?b?[2J\", which is n");
  EXPECT_EQ(refusal_of(R"({"\n": 1, "\n": 2})"), "s.json: \"?\" is given twice in one object; keep one of them");
}

// A title, or the name of a sensor or trim axis, stands on terminal and page: it could move the cursor over a warning.
TEST(ReadSessionRefuses, NamesThatWouldRuleATerminal) {
  for (const char* hidden : {"\\u001b[2A", "\\u0007", "\\r", "\\u009b", "\\u202e"}) {
    const std::string problem = refusal_of("{\"title\": \"Run" + std::string(hidden) + "\"}");
    EXPECT_EQ(problem.find("s.json: /title is \"Run?"), 0U) << problem;
    EXPECT_TRUE(problem.ends_with("each question mark is a control character; expected plain text")) << problem;
  }
  EXPECT_EQ(session::json_value::from_text(R"({"rpm\u0007": 1, "comment \u0007": 2})", "axes").has("rpm"), false);
  EXPECT_THROW((void)session::json_value::from_text(R"({"rpm\u0007": 1})", "axes").members(), fettle::error);
  EXPECT_EQ(refusal_of("{\"title\": \"" + std::string(201, 'x') + "\"}"),
            "s.json: /title is \"" + std::string(36, 'x') + "..., 201 characters long, expected 200 at most");
}

// A name of ten thousand characters would push what went before off the terminal.
TEST(ReadSessionRefuses, NamesThatWouldFloodATerminal) {
  const std::string endless(10240, 'x'), no_file(300, 'x');  // longer than any file system's names
  EXPECT_EQ(refusal_of("{\"" + endless + "\": 1}"), "s.json: a name begins with \"" + endless.substr(0, 37) +
                                                        "...\" and is 10240 characters long, expected 200 at most");
  const auto complaint_of = [](const auto& call) -> std::string {
    try {
      call();
    } catch (const fettle::error& problem) {
      return problem.what();
    }
    return "";
  };
  EXPECT_EQ(
      complaint_of([&] { (void)session::json_value::from_text("{\"a\": \"" + endless + "\"}", "s")["a"].path(); }),
      "s: /a is \"" + endless.substr(0, 36) + "..., 10240 characters long, expected 1000 at most");
  EXPECT_EQ(
      complaint_of([&] { (void)session::path_seen_from("/" + no_file, "/"); }).find("/" + no_file + ": no file can"),
      0U);
}

TEST(ReadSessionRefuses, AnEngineOrFuelInOtherUnits) {
  EXPECT_EQ(refusal_of(R"({"title": "a", "engine": {"cylinders": 5, "displacement_l": 2500}})"),
            "s.json: /engine/displacement_l is 2500, expected a number from 0.03 to 30");
  EXPECT_EQ(refusal_of(R"({"title": "a", "engine": {"cylinders": 5, "displacement_l": 2.5},
                           "fuel": {"stoichiometric_afr": 14.6, "density_kg_m3": 0.75}})"),
            "s.json: /fuel/density_kg_m3 is 0.75, expected a number from 500 to 1200");
}

// Names of POSIX are any bytes, those of a session file are not.
TEST(PathSeenFrom, RefusesWhatASessionFileCannotHold) {
  EXPECT_EQ(session::path_seen_from("/a/\xC3\xA9.csv", "/a/out"), "../\xC3\xA9.csv");
  for (const char* hidden : {"\xFF", "\x1B"}) {
    try {
      (void)session::path_seen_from("/a/run" + std::string(hidden) + "/x.csv", "/a/out");
      FAIL();
    } catch (const fettle::error& problem) {
      EXPECT_EQ(std::string(problem.what()).find("/a/run?/x.csv: seen from /a/out its name is ../run?/x.csv, and"), 0U)
          << problem.what();
    }
  }
}

// A bad sensor among good ones: all readings together look sound, its own do not.
TEST(JudgeScatter, LooksAtEverySensor) {
  session::session session;
  session.sensors.resize(3);
  session.sensors[1].name = "pipe 2";
  session.sensors[2].name = "pipe 3";
  fettle::identification identified;
  identified.scatter = {{0.006, 0}, {0.2, 0.3}, {0.03, 0}};
  identified.noise = 0.01;
  const auto said = session::judge_scatter(session, identified);
  ASSERT_EQ(said.objections.size(), 1U);
  EXPECT_EQ(said.objections[0].find("the readings of sensor pipe 2 scatter by 20.0 %"), 0U) << said.objections[0];
  ASSERT_EQ(said.remarks.size(), 1U);
  EXPECT_EQ(said.remarks[0].find("the readings of sensor pipe 3 scatter by 3.0 %"), 0U) << said.remarks[0];
}

// One glitch of the throttle in a log of 200 rows must not hide that it counts from 0 to 1.
TEST(RefuseHundredths, LooksPastAGlitch) {
  const fettle::map_file base{
      .axis_names = {"throttle_pct"},
      .table = *fettle::dynamic_table<double>::from({*fettle::dynamic_axis<double>::from({0, 100})}, {1.0, 2.0}),
      .descending = {false}};
  fettle::log_table log{.names = {"throttle_pct"}, .columns = {std::vector<double>(200, 0.6)}};
  EXPECT_THROW(session::refuse_hundredths(base, log, "a.csv"), fettle::error);
  log.columns[0][50] = 99;
  EXPECT_THROW(session::refuse_hundredths(base, log, "a.csv"), fettle::error);
  std::fill(log.columns[0].begin(), log.columns[0].begin() + 20, 30);
  EXPECT_NO_THROW(session::refuse_hundredths(base, log, "a.csv"));
}

TEST(ReadSessionRefuses, ANumberBeyondAnyDouble) {
  EXPECT_EQ(refusal_of(R"({"coldest_degC": 8E868})"),
            "s.json: a number is beyond 1e308 in size; look for an exponent too long");
}

TEST(ReadSessionRefuses, AMisspeltNameAndSaysWhichWasMeant) {
  const std::string problem = refusal_of(R"({"title": "a", "closed_lop": false})");
  EXPECT_TRUE(problem.ends_with("; did you mean \"closed_loop\"?")) << problem;
  EXPECT_EQ(refusal_of(R"({"weather": "fine"})").find("did you mean"), std::string::npos);
}

TEST(WantedChannelsRefuse, AMisspeltColumnAndSayWhichWasMeant) {
  for (const auto& [misspelt, meant] :
       {std::pair{"battery_V", "battery_v"}, {"batery_v", "battery_v"}, {"air_kpa", "air_kPa"}}) {
    session::session session;
    session.columns = {{.name = misspelt, .file_name = "Battery"}};
    const scratch::folder here;
    const std::string problem = scratch::refusal_in(here, [&] { (void)session::wanted_channels(session, {}); });
    EXPECT_NE(problem.find("/columns has \"" + std::string(misspelt) + "\""), std::string::npos) << problem;
    EXPECT_TRUE(problem.ends_with("; did you mean \"" + std::string(meant) + "\"?")) << problem;
  }
}

TEST(ReadSessionRefuses, AFolder) {
  const scratch::folder here;
  std::filesystem::create_directory(here.file("sub"));
  EXPECT_EQ(scratch::refusal_in(here, [&] { (void)session::read_session(here.file("sub")); }),
            "sub: is a folder, expected a JSON file");
}

// Values are compared, copied and shown by functions that call themselves, so depth costs stack.
TEST(ReadSessionRefuses, ListsWithinListsWithoutEnd) {
  for (const std::size_t depth : {100U, 1'000'000U})
    EXPECT_EQ(refusal_of("{\"title\": " + std::string(depth, '[') + std::string(depth, ']') + "}"),
              "s.json: lists and objects stand more than 20 deep in one another; far fewer are needed")
        << depth;
}

}  // namespace read_session_test

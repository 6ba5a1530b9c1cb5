// SPDX-License-Identifier: MIT
#include "common/session/read_session.hpp"

#include <gtest/gtest.h>

#include <filesystem>
#include <string>
#include <utility>

#include "common/session/channels.hpp"
#include "io/scratch.hpp"

namespace {

[[nodiscard]] std::string refusal_of(const std::string& text) {
  const scratch::folder here;
  return scratch::refusal_in(here, [&] { (void)session::read_session(here.file("s.json", text)); });
}

TEST(ReadSessionRefuses, InOnePlainLineWhateverTheFileHolds) {
  EXPECT_EQ(refusal_of(R"({"a\nb\u001b[2J": 1})").substr(0, 42), "s.json: the file has \"a?b?[2J\", which is n");
  EXPECT_EQ(refusal_of(R"({"\n": 1, "\n": 2})"), "s.json: \"?\" is given twice in one object; keep one of them");
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
    session::session of;
    of.columns = {{.name = misspelt, .file_name = "Battery"}};
    const scratch::folder here;
    const std::string problem = scratch::refusal_in(here, [&] { (void)session::wanted_channels(of, {}); });
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

}  // namespace

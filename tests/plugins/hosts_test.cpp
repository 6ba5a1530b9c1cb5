// SPDX-License-Identifier: MIT
// The hosts: the same shared objects in C++, C and Python, sound and odd, of this version and others.
#include <gtest/gtest.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <cstddef>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <string>
#include <utility>
#include <vector>

#include "fettle/io.hpp"
#include "fettle/map/interpolate.hpp"

namespace hosts_test {

namespace fs = std::filesystem;

struct answer {
  int status = -1;
  std::string said;  ///< on both streams
};

[[nodiscard]] answer answer_of(const std::string& command) {
  answer result;
  FILE* pipe = popen((command + " 2>&1").c_str(), "r");
  if (pipe == nullptr) return result;
  std::array<char, 4096> block{};
  while (const std::size_t count = std::fread(block.data(), 1, block.size(), pipe))
    result.said.append(block.data(), count);
  const int status = pclose(pipe);
  result.status = WIFEXITED(status) ? WEXITSTATUS(status) : -1;
  return result;
}

[[nodiscard]] std::string plugin(const std::string& name) {
  return std::string(" ") + PLUGIN_DIR + "/" + name + ".so";
}
[[nodiscard]] std::string odd(const std::string& name) {
  return std::string(" ") + ODD_DIR + "/" + name + ".so";
}
[[nodiscard]] bool says(const answer& answer, const std::string& words) {
  return answer.said.find(words) != std::string::npos;
}

const std::string python_host = std::string(PYTHON3) + " " + PYTHON_HOST;

/// A folder of this test alone, with a log and maps, gone at its end.
class CppHost : public testing::Test {
 protected:
  void SetUp() override {
    folder_ = fs::path(testing::TempDir()) / ("plugin_host_" + std::to_string(getpid()));
    fs::create_directories(folder_);
    const auto made = answer_of(std::string(VIRTUAL_ENGINE_PROGRAM) + " --minutes 0.1 --out " + folder_.string());
    ASSERT_EQ(made.status, 0) << made.said;
    auto trim = fettle::read_map_csv(at("fuel_map.csv"));
    for (int cylinder = 1; cylinder <= 5; ++cylinder) {
      for (double& value : trim.table.values()) value = 0.97 + 0.01 * cylinder;
      fettle::write_map_csv(at("trim_" + std::to_string(cylinder) + ".csv"), trim);
    }
    std::ofstream(at("dead_time.csv")) << "battery_v,ms\n8,2.2\n12,1.1\n16,0.8\n";
  }
  void TearDown() override { fs::remove_all(folder_); }

  [[nodiscard]] fs::path at(const std::string& name) const { return folder_ / name; }
  [[nodiscard]] answer run(const std::string& plugins) const {
    std::string command = std::string(CPP_HOST) + " run --log " + at("stage.csv").string() + " --out " +
                          at("out.csv").string() + " --column mass_mg=value";
    for (const std::string word : {"map=fuel_map", "secondary_share=share_map", "primary_dead_time_ms=dead_time",
                                   "secondary_dead_time_ms=dead_time", "trim_1=trim_1", "trim_2=trim_2",
                                   "trim_3=trim_3", "trim_4=trim_4", "trim_5=trim_5"}) {
      const auto sign = word.find('=');
      command += " --map " + word.substr(0, sign + 1) + at(word.substr(sign + 1)).string() + ".csv";
    }
    for (const std::string word :
         {"primary_flow_mg_per_ms=3.2", "secondary_flow_mg_per_ms=4.1", "primary_smallest_open_ms=0.4",
          "secondary_smallest_open_ms=0.5", "largest_duty=0.85"})
      command += " --number " + word;
    return answer_of(command + plugins);
  }
  [[nodiscard]] fettle::log_table results(const std::vector<std::string>& names) const {
    std::vector<fettle::log_channel> channels;
    for (const auto& name : names) channels.push_back({.name = name, .file_name = name});
    return fettle::read_log_csv(at("out.csv"), channels);
  }

 private:
  fs::path folder_;
};

TEST_F(CppHost, RunsPluginsOnALogOneAfterTheOther) {
  const auto ran = run(plugin("look_up") + plugin("stage") + plugin("trim"));
  ASSERT_EQ(ran.status, 0) << ran.said;
  const auto out = results({"time_s", "value", "primary_ms", "secondary_ms", "shortfall_mg", "faults", "mass_5_mg"});
  const std::vector<fettle::log_channel> wanted{{.name = "rpm", .file_name = "rpm"},
                                                {.name = "throttle_pct", .file_name = "throttle_pct"}};
  const auto log = fettle::read_log_csv(at("stage.csv"), wanted);
  const auto map = fettle::read_map_csv(at("fuel_map.csv"));
  ASSERT_EQ(out.rows(), log.rows());
  double most_ms = 0;
  for (std::size_t i = 0; i < log.rows(); ++i) {
    const double mass_mg = fettle::interpolate(map.table.view<2>(), log.columns[0][i], log.columns[1][i]);
    ASSERT_EQ(out.columns[1][i], mass_mg) << i;
    ASSERT_NEAR(out.columns[6][i], 1.02 * mass_mg, 1e-12 * mass_mg) << i;
    most_ms = std::max(most_ms, out.columns[2][i]);
  }
  EXPECT_GT(most_ms, 1);
}

TEST_F(CppHost, GoesOnWithoutAPluginThatFails) {
  const auto ran = run(odd("no_memory_at_setup") + odd("no_memory_at_run") + odd("no_symbol") + plugin("trim") +
                       plugin("look_up") + odd("sound"));
  EXPECT_EQ(ran.status, 1);
  EXPECT_TRUE(says(ran, "no_memory_at_setup.so cannot be set up: out of memory (status 5)")) << ran.said;
  EXPECT_TRUE(says(ran, "no_memory_at_run.so cannot run: out of memory (status 5)")) << ran.said;
  EXPECT_TRUE(says(ran, "has no symbol fettle_plugin")) << ran.said;
  EXPECT_TRUE(says(ran, "needs the column value, which neither the log nor a plugin before it has")) << ran.said;
  const auto out = results({"time_s", "value", "twice_rpm"});
  EXPECT_GT(out.rows(), 100U);
}

TEST_F(CppHost, ListsAFolderOfPlugins) {
  const auto listed = answer_of(std::string(CPP_HOST) + " list " + PLUGIN_DIR);
  EXPECT_EQ(listed.status, 0) << listed.said;
  for (const char* name : {"look_up 1.0", "stage 1.0", "trim 1.0", "interface 1.1"}) EXPECT_TRUE(says(listed, name));
}

TEST_F(CppHost, SaysWhatAWordOfTheCommandLacks) {
  const std::string begin = std::string(CPP_HOST) + " run --log " + at("stage.csv").string() + " --out " +
                            at("out.csv").string() + plugin("look_up");
  for (const auto& [words, expected] : std::vector<std::pair<std::string, std::string>>{
           {" --map fuel_map.csv", "expected a name and what it is: map=fuel_map.csv"},
           {" --number largest_duty=much", "expected a number: largest_duty=0.85"},
           {" --map map=nowhere.csv", "nowhere.csv"}}) {
    const auto refused = answer_of(begin + words);
    EXPECT_EQ(refused.status, 2);
    EXPECT_TRUE(says(refused, expected)) << refused.said;
  }
}

/// What each odd plugin is told, by every host, which goes on to the next: a sound one after them all still runs.
const std::vector<std::pair<std::string, std::string>> odd_ones{
    {"no_symbol", "has no symbol fettle_plugin"},
    {"null_table", "gives no table of functions"},
    {"other_major", "speaks "},
    {"truncated", "has a truncated table"},
    {"cut_short", "has a truncated table"},
    {"wrong_size", "has a wrong size"},
    {"no_name", "has no name, version, purpose or usage"},
    {"no_function", "lacks a function in its table"},
    {"no_memory_at_setup", "cannot be set up: out of memory (status 5)"},
    {"no_memory_at_run", "cannot run: out of memory (status 5)"},
    {"no_instance", "says that it is set up but gives no instance"},
    {"strange_status", "cannot be set up: no reason given (status 99)"},
    {"nowhere", "is not a file"}};

void expect_explained(const std::string& host) {
  std::string plugins;
  for (const auto& [name, words] : odd_ones) plugins += odd(name);
  const auto ran = answer_of(host + plugins + odd("sound"));
  EXPECT_EQ(ran.status, 1);
  for (const auto& [name, words] : odd_ones) EXPECT_TRUE(says(ran, name + ".so " + words)) << host << "\n" << ran.said;
  EXPECT_TRUE(says(ran, "twice_rpm 3000 6500 10500 19000")) << host << "\n" << ran.said;
}

TEST(CHost, ExplainsOddPluginsAndGoesOn) {
  expect_explained(C_HOST);
}

TEST(PythonHost, ExplainsOddPluginsAndGoesOn) {
  if (*PYTHON3 == '\0') GTEST_SKIP() << NO_PYTHON;
  expect_explained(python_host);
}

TEST(PythonHost, SaysTheSameAsTheCHost) {
  if (*PYTHON3 == '\0') GTEST_SKIP() << NO_PYTHON;
  const std::string plugins = plugin("look_up") + plugin("stage") + plugin("trim") + odd("old") + odd("later");
  const auto c = answer_of(C_HOST + plugins), python = answer_of(python_host + plugins);
  EXPECT_EQ(c.status, 0) << c.said;
  EXPECT_EQ(python.status, 0) << python.said;
  EXPECT_EQ(python.said, c.said);
}

TEST(CHost, GivesWhatTheLibraryGives) {
  const auto ran = answer_of(C_HOST + plugin("look_up"));
  // By hand: rpm 1500 is a sixth of the way from 1000 to 4000, throttle 5 a quarter from 0 to 20: the map gives 7.5417,
  // the correction 1.00167.
  const double first = (7.25 + (9.0 - 7.25) / 6) * (1.005 + (0.985 - 1.005) / 6);
  double value = 0;
  ASSERT_EQ(std::sscanf(ran.said.c_str() + ran.said.find("value "), "value %lf", &value), 1) << ran.said;
  EXPECT_NEAR(value, first, 1e-12);
}

TEST(Hosts, OfThisVersionTakeOlderAndLaterPlugins) {
  const std::string plugins = odd("old") + odd("later");
  for (const std::string& host : {std::string(C_HOST), python_host}) {
    if (host.front() == ' ') continue;  // no python
    const auto ran = answer_of(host + plugins);
    EXPECT_EQ(ran.status, 0) << ran.said;
    const auto first = ran.said.find("cannot forget"), second = ran.said.find("forgets on request");
    EXPECT_NE(first, std::string::npos) << ran.said;
    EXPECT_NE(second, std::string::npos) << ran.said;
    EXPECT_LT(first, second);
  }
  const auto listed = answer_of(std::string(CPP_HOST) + " list" + plugins);
  EXPECT_EQ(listed.status, 0) << listed.said;
  EXPECT_TRUE(says(listed, "interface 1.0")) << listed.said;
  EXPECT_TRUE(says(listed, "interface 1.7")) << listed.said;
}

TEST(Hosts, OfAnOlderVersionTakePluginsOfThisOne) {
  const std::string plugins = plugin("look_up") + plugin("stage") + plugin("trim") + odd("later");
  const auto old = answer_of(OLD_C_HOST + plugins), now = answer_of(C_HOST + plugins);
  EXPECT_EQ(old.status, 0) << old.said;
  EXPECT_FALSE(says(old, "forget"));
  std::string without_resets = now.said;
  const std::string line = "forgets on request\n";
  for (auto at = without_resets.find(line); at != std::string::npos; at = without_resets.find(line))
    without_resets.erase(at, line.size());
  EXPECT_EQ(old.said, without_resets);
}

TEST(CppHostLoads, OddPluginsWithAnExplanation) {
  for (const auto& [name, words] : odd_ones) {
    if (words.starts_with("cannot") || name == "no_instance") continue;  // these pass the check of their table
    const auto listed = answer_of(std::string(CPP_HOST) + " list" + odd(name) + odd("sound"));
    EXPECT_EQ(listed.status, 1) << name;
    EXPECT_TRUE(says(listed, name + ".so " + words)) << listed.said;
    EXPECT_TRUE(says(listed, "twice 1.0")) << listed.said;
  }
}

}  // namespace hosts_test

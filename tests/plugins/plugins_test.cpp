// SPDX-License-Identifier: MIT
// The plugins through their binary interface, against the library called directly.
#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <cstddef>
#include <filesystem>
#include <limits>
#include <memory>
#include <string>
#include <vector>

#include "fettle/fuel/banks.hpp"
#include "fettle/map/table.hpp"
#include "plugin_host/loaded_plugin.hpp"

namespace plugins_test {

using plugin_host::instance;
using plugin_host::loaded_plugin;
using columns = std::vector<std::vector<double>>;

constexpr double nan = std::numeric_limits<double>::quiet_NaN();
constexpr double infinity = std::numeric_limits<double>::infinity();

[[nodiscard]] std::shared_ptr<const loaded_plugin> plugin_named(const std::string& name) {
  return std::make_shared<const loaded_plugin>(std::filesystem::path(PLUGIN_DIR) / (name + ".so"));
}

constexpr fettle::axis<double, 3> rpm{{1000, 4000, 8000}};
constexpr fettle::axis<double, 3> throttle_pct{{0, 20, 100}};
constexpr fettle::axis<double, 3> battery_v{{8, 12, 16}};
constexpr fettle::table<double, 3, 3> fuel_mg{rpm, throttle_pct, {5, 14, 22, 6, 18, 34, 4, 16, 41}};
constexpr fettle::table<double, 3, 3> correction{rpm, throttle_pct, {1.0, 1.02, 1.0, 0.98, 1.0, 1.05, 1.0, 1.0, 1.03}};
constexpr fettle::table<double, 3, 3> share{rpm, throttle_pct, {0.0, 0.0, 0.0, 0.0, 0.0, 0.4, 0.0, 0.25, 0.5}};
constexpr fettle::table<double, 3> dead_time_ms{battery_v, {1.9, 1.1, 0.8}};

const std::array<fettle_axis, 2> surface{
    {{"rpm", rpm.points().data(), 3}, {"throttle_pct", throttle_pct.points().data(), 3}}};
const std::array<fettle_axis, 1> over_battery{{{"battery_v", battery_v.points().data(), 3}}};

/// Settings that suit all three plugins; a test may spoil them.
struct sound_settings {
  std::vector<fettle_map> maps{{"map", surface.data(), 2, fuel_mg.values().data(), 9},
                               {"correction", surface.data(), 2, correction.values().data(), 9},
                               {"secondary_share", surface.data(), 2, share.values().data(), 9},
                               {"primary_dead_time_ms", over_battery.data(), 1, dead_time_ms.values().data(), 3},
                               {"secondary_dead_time_ms", over_battery.data(), 1, dead_time_ms.values().data(), 3},
                               {"trim_1", surface.data(), 2, correction.values().data(), 9},
                               {"trim_2", surface.data(), 2, share.values().data(), 9}};
  std::vector<fettle_number> numbers{{"primary_flow_mg_per_ms", 3.2},
                                     {"secondary_flow_mg_per_ms", 4.1},
                                     {"primary_smallest_open_ms", 0.4},
                                     {"secondary_smallest_open_ms", 0.5},
                                     {"largest_duty", 0.85}};

  [[nodiscard]] fettle_settings view() const {
    return {sizeof(fettle_settings), maps.data(), maps.size(), numbers.data(), numbers.size()};
  }
  [[nodiscard]] fettle_map& map(const std::string& name) {
    for (auto& map : maps)
      if (map.name == name) return map;
    throw fettle::error("no such map");
  }
};

[[nodiscard]] columns run(instance& plugin, const columns& given) {
  std::vector<const double*> inputs;
  for (const auto& column : given) inputs.push_back(column.data());
  return plugin.run(inputs, given[0].size());
}

const columns points{{1500, 3250, 5250, 9500, -infinity, 4000}, {5, 27.5, 60, 100, infinity, 20}};

TEST(LookUpPlugin, GivesWhatTheLibraryGives) {
  instance plugin(plugin_named("look_up"), sound_settings{}.view());
  EXPECT_EQ(plugin.inputs(), (std::vector<std::string>{"rpm", "throttle_pct"}));
  EXPECT_EQ(plugin.outputs(), std::vector<std::string>{"value"});
  const auto out = run(plugin, points);
  for (std::size_t i = 0; i < points[0].size(); ++i)
    EXPECT_EQ(out[0][i], fettle::interpolate(fuel_mg, points[0][i], points[1][i]) *
                             fettle::interpolate(correction, points[0][i], points[1][i]));
}

TEST(LookUpPlugin, ReadsMapsOfOneAndThreeAxes) {
  sound_settings given;
  given.maps = {{"map", over_battery.data(), 1, dead_time_ms.values().data(), 3}};
  instance curve(plugin_named("look_up"), given.view());
  EXPECT_EQ(run(curve, {{10, 20}})[0], (std::vector<double>{1.5, 0.8}));

  const std::array<fettle_axis, 3> cuboid{surface[0], surface[1], over_battery[0]};
  std::vector<double> values(27);
  for (std::size_t i = 0; i < values.size(); ++i) values[i] = static_cast<double>(i);
  given.maps = {{"map", cuboid.data(), 3, values.data(), values.size()}};
  instance of_three(plugin_named("look_up"), given.view());
  EXPECT_EQ(run(of_three, {{4000, 8000}, {20, 100}, {8, 16}})[0], (std::vector<double>{12, 26}));
}

TEST(LookUpPlugin, GivesNaNForNaNAndNothingForNoRows) {
  instance plugin(plugin_named("look_up"), sound_settings{}.view());
  EXPECT_TRUE(std::isnan(run(plugin, {{nan}, {20}})[0][0]));
  EXPECT_TRUE(run(plugin, {{}, {}})[0].empty());
}

TEST(LookUpPlugin, KeepsNothingOfTheSettings) {
  std::vector<double> values(fuel_mg.values().begin(), fuel_mg.values().end());
  sound_settings given;
  given.maps = {{"map", surface.data(), 2, values.data(), 9}};
  instance plugin(plugin_named("look_up"), given.view());
  values.assign(9, nan);
  EXPECT_EQ(run(plugin, {{4000}, {20}})[0][0], 18);
}

TEST(StagePlugin, GivesWhatTheLibraryGivesAndForgetsOnReset) {
  instance plugin(plugin_named("stage"), sound_settings{}.view());
  // The mass swings about the point where the secondary bank comes in, so what was before matters.
  const std::vector<double> mass_mg{6, 30, 25, 27, 24, 26, 44, 90, nan, -1};
  const std::size_t rows = mass_mg.size();
  const columns given{std::vector<double>(rows, 6500),
                      std::vector<double>(rows, 40),
                      std::vector<double>(rows, 6500),
                      {13, 13.5, 14, 14, 14, 14, 12, 8, 14, 14},
                      mass_mg};
  EXPECT_EQ(plugin.inputs(), (std::vector<std::string>{"rpm", "throttle_pct", "rpm", "battery_v", "mass_mg"}));
  const auto first = run(plugin, given), second = run(plugin, given);
  plugin.reset();
  const auto again = run(plugin, given);
  EXPECT_EQ(again, first);

  auto before = fettle::bank_mode::none;
  for (const auto& out : {first, second}) {
    for (std::size_t i = 0; i < rows; ++i) {
      const double dead_ms = fettle::interpolate(dead_time_ms, given[3][i]);
      const fettle::flow_line<double> primary{3.2, dead_ms, 0.4}, secondary{4.1, dead_ms, 0.5};
      const auto banks = fettle::split<double>(mass_mg[i], fettle::interpolate(share, 6500, 40), {primary, secondary},
                                               {120000.0 / 6500, 0.85}, before);
      before = banks.mode;
      EXPECT_EQ(out[0][i], banks.primary_ms) << i;
      EXPECT_EQ(out[1][i], banks.secondary_ms) << i;
      EXPECT_EQ(out[2][i], banks.shortfall_mg) << i;
      EXPECT_EQ(out[3][i], static_cast<double>(banks.faults)) << i;
    }
  }
}

TEST(TrimPlugin, GivesWhatTheLibraryGives) {
  instance plugin(plugin_named("trim"), sound_settings{}.view());
  EXPECT_EQ(plugin.outputs(), (std::vector<std::string>{"mass_1_mg", "mass_2_mg"}));
  const std::vector<double> mass_mg{6, 14.5, 31, 44, 10, 20};
  const auto out = run(plugin, {points[0], points[1], mass_mg});
  for (std::size_t i = 0; i < mass_mg.size(); ++i) {
    EXPECT_EQ(out[0][i], mass_mg[i] * fettle::interpolate(correction, points[0][i], points[1][i]));
    EXPECT_EQ(out[1][i], mass_mg[i] * fettle::interpolate(share, points[0][i], points[1][i]));
  }
}

/// The plugin's own words when it does not take settings.
[[nodiscard]] std::string refusal_of(const std::string& plugin, const sound_settings& given) {
  try {
    instance unused(plugin_named(plugin), given.view());
  } catch (const fettle::error& problem) {
    return problem.what();
  }
  return "taken";
}

TEST(Plugins, SayWhichSettingDoesNotSuit) {
  const auto expect = [](const std::string& plugin, const std::string& words, auto&& spoil) {
    sound_settings given;
    spoil(given);
    const auto text = refusal_of(plugin, given);
    EXPECT_NE(text.find(words), std::string::npos) << text;
    EXPECT_NE(text.find("(status 4)"), std::string::npos) << text;
  };
  const std::array<fettle_axis, 2> falling{surface[1], {"throttle_pct", share.values().data(), 3}};
  const std::array<fettle_axis, 2> turned{surface[1], surface[0]};
  const std::array<fettle_axis, 2> nameless{surface[0], {nullptr, throttle_pct.points().data(), 3}};
  const std::array<double, 9> with_hole{1, 1, 1, 1, nan, 1, 1, 1, 1};
  expect("look_up", "needs the map map", [](auto& s) { s.maps.clear(); });
  expect("look_up", "the map map has 4 axes, expected 1 to 3", [](auto& s) { s.map("map").rank = 4; });
  expect("look_up", "the map map has 8 values", [](auto& s) { s.map("map").value_count = 8; });
  expect("look_up", "fewer values than breakpoints", [](auto& s) { s.map("map").value_count = 2; });
  expect("look_up", "has no axes or no values", [](auto& s) { s.map("map").values = nullptr; });
  expect("look_up", "has no axes or no values", [](auto& s) { s.map("map").axes = nullptr; });
  expect("look_up", "axis 2 of the map map has no name", [&](auto& s) { s.map("map").axes = nameless.data(); });
  expect("look_up", "each above the one before", [&](auto& s) { s.map("map").axes = falling.data(); });
  expect("look_up", "is not finite", [&](auto& s) { s.map("map").values = with_hole.data(); });
  expect("look_up", "must have the axes of the map", [&](auto& s) { s.map("correction").axes = turned.data(); });
  expect("look_up", "has no name", [](auto& s) { s.maps[0].name = nullptr; });
  expect("stage", "needs the number largest_duty", [](auto& s) { s.numbers.pop_back(); });
  expect("stage", "the number largest_duty is nan", [](auto& s) { s.numbers.back().value = nan; });
  expect("stage", "needs the map primary_dead_time_ms", [](auto& s) { s.map("primary_dead_time_ms").name = "other"; });
  expect("trim", "needs the maps trim_1", [](auto& s) { s.map("trim_1").name = "other"; });
  expect("trim", "the map trim_2 must have the axes", [&](auto& s) { s.map("trim_2").axes = turned.data(); });
}

TEST(Plugins, AnswerMisuseWithAStatus) {
  for (const std::string name : {"look_up", "stage", "trim"}) {
    const auto plugin = plugin_named(name);
    const auto& table = plugin->table();
    const sound_settings sound;
    auto given = sound.view();
    fettle_instance* made = nullptr;
    EXPECT_EQ(table.create(nullptr, nullptr, 0, &made), FETTLE_NULL_POINTER);
    EXPECT_EQ(table.create(&given, nullptr, 0, nullptr), FETTLE_NULL_POINTER);
    given.size = sizeof(std::uint64_t);
    EXPECT_EQ(table.create(&given, nullptr, 0, &made), FETTLE_WRONG_SIZE);
    given = sound.view();
    given.maps = nullptr;
    char message[12];
    EXPECT_EQ(table.create(&given, message, sizeof message, &made), FETTLE_WRONG_SETTINGS);
    EXPECT_EQ(std::string(message), "the list of");  // cut, and it ends in a zero byte
    EXPECT_EQ(made, nullptr);
    given = sound.view();
    given.size = 10 * sizeof given;  // from a later host
    ASSERT_EQ(table.create(&given, nullptr, 0, &made), FETTLE_OK);

    std::uint64_t inputs = 0, outputs = 0;
    while (table.input_name(made, inputs) != nullptr) ++inputs;
    while (table.output_name(made, outputs) != nullptr) ++outputs;
    EXPECT_EQ(table.input_name(nullptr, 0), nullptr);
    EXPECT_EQ(table.output_name(nullptr, 0), nullptr);
    double number = 1;
    std::vector<const double*> in(inputs, &number);
    std::vector<double> results(outputs);
    std::vector<double*> out;
    for (auto& result : results) out.push_back(&result);
    EXPECT_EQ(table.run(nullptr, in.data(), inputs, out.data(), outputs, 1), FETTLE_NULL_POINTER);
    EXPECT_EQ(table.run(made, nullptr, inputs, out.data(), outputs, 1), FETTLE_NULL_POINTER);
    EXPECT_EQ(table.run(made, in.data(), inputs, nullptr, outputs, 1), FETTLE_NULL_POINTER);
    EXPECT_EQ(table.run(made, in.data(), inputs - 1, out.data(), outputs, 1), FETTLE_WRONG_COUNT);
    EXPECT_EQ(table.run(made, in.data(), inputs, out.data(), outputs + 1, 1), FETTLE_WRONG_COUNT);
    in[1] = nullptr;
    EXPECT_EQ(table.run(made, in.data(), inputs, out.data(), outputs, 1), FETTLE_NULL_POINTER);
    EXPECT_EQ(table.run(made, in.data(), inputs, out.data(), outputs, 0), FETTLE_OK);
    in[1] = &number;
    out[0] = nullptr;
    EXPECT_EQ(table.run(made, in.data(), inputs, out.data(), outputs, 1), FETTLE_NULL_POINTER);
    EXPECT_EQ(table.reset(nullptr), FETTLE_NULL_POINTER);
    EXPECT_EQ(table.reset(made), FETTLE_OK);
    for (fettle_status status = -1; status < 9; ++status) EXPECT_NE(table.status_text(status), nullptr);
    table.destroy(made);
    table.destroy(nullptr);
  }
}

}  // namespace plugins_test

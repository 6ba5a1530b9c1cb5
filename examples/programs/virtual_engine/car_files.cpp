// SPDX-License-Identifier: MIT
#include "virtual_engine/car_files.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <array>
#include <cstddef>
#include <nlohmann/json.hpp>
#include <string>
#include <utility>

#include "fettle/io/atomic_write.hpp"
#include "fettle/io/log_csv.hpp"
#include "fettle/io/map_csv.hpp"
#include "virtual_engine/car.hpp"
#include "virtual_engine/maps.hpp"

namespace virtual_engine {
namespace {

/// What the change of the demo did: a lighter clutch, and a little more torque.
struct change_truth {
  double torque_factor = 1.012, engine_kgm2 = 0.090;
};

/// The car as its owner would describe it: one efficiency for all gears, and no slip.
[[nodiscard]] nlohmann::ordered_json described_car(const car_truth& truth) {
  return {{"mass_kg", truth.body.mass_kg},
          {"wheels_kgm2", truth.body.turning.wheels_kgm2},
          {"shafts_kgm2", truth.body.turning.shafts_kgm2},
          {"gear_ratios", truth.ratios},
          {"final_ratio", truth.final_ratio},
          {"wheel_radius_m", truth.wheel_radius_m},
          {"tyre_growth_per_m2s2", truth.growth_per_m2s2},
          {"efficiency", car_truth::mean_efficiency}};
}

struct pull_kind {
  std::string name;
  std::vector<std::size_t> gears;  ///< one pull in each, out and back, then one free; empty: on the dynamometer
  std::size_t sets = 4;
};

/// Pulls before and after in turn, set by set, and the session that names them.
[[nodiscard]] nlohmann::ordered_json write_pulls(const std::filesystem::path& folder, const pull_kind& kind,
                                                 const std::array<car_truth, 2>& truth, test_day& day) {
  using json = nlohmann::ordered_json;
  std::array<json, 2> sets{json::array(), json::array()};
  for (std::size_t set = 0; set < kind.sets; ++set)
    for (std::size_t state = 0; state < 2; ++state) {
      day.begin_set();
      json files = json::array();
      const auto add = [&](const fettle::log_table& log, json entry) {
        const std::string name =
            fmt::format("{}_{}_{}_{}.csv", kind.name, state == 0 ? "before" : "after", set + 1, files.size() + 1);
        fettle::write_log_csv(folder / name, log);
        entry["file"] = name;
        files.push_back(std::move(entry));
      };
      auto gears = kind.gears;
      if (set % 2 == 1) std::reverse(gears.begin(), gears.end());  // or a warming engine would pass for inertia
      for (const std::size_t gear : gears)
        for (int way = 0; way < 2; ++way) {
          const auto now = day.next();
          add(road_pull(truth[state], gear, now), {{"gear", gear}, {"direction", now.is_out ? "out" : "back"}});
        }
      if (!gears.empty()) add(free_pull(truth[state], day.next()), {{"free", true}});
      for (int i = 0; gears.empty() && i < 2; ++i) add(dyno_pull(truth[state], day.next()), json::object());
      sets[state].push_back(std::move(files));
    }
  return {{"before", {{"name", "heavy clutch"}, {"sets", sets[0]}}},
          {"after", {{"name", "light clutch"}, {"sets", sets[1]}}}};
}

}  // namespace

std::vector<std::filesystem::path> write_car(const std::filesystem::path& folder, std::uint64_t seed) {
  using json = nlohmann::ordered_json;
  car_truth before = car_truth::from_seed(seed), after = before;
  const change_truth change;
  after.torque_factor = change.torque_factor;
  after.body.turning.engine_kgm2 = change.engine_kgm2;
  test_day day(before, seed);
  std::filesystem::create_directories(folder / "truth");
  const auto write = [&](const char* name, const json& content) {
    fettle::write_atomically(folder / name, content.dump(2) + "\n");
  };

  json dyno{{"title", "Before and after, on the dynamometer"}, {"method", "dyno"}};
  dyno.update(write_pulls(folder, {"dyno", {}, 4}, {before, after}, day));
  write("dyno_session.json", dyno);
  json road{{"title", "Before and after, on a closed course"},
            {"method", "road"},
            {"car", described_car(before)},
            {"seconds", {{"from_kmh", 80}, {"to_kmh", 120}}},
            {"coast_downs", json::array()}};
  for (int i = 0; i < 6; ++i) {
    const auto now = day.next();
    const std::string name = fmt::format("coast_{}.csv", i + 1);
    fettle::write_log_csv(folder / name, coast(before, now));
    road["coast_downs"].push_back({{"file", name}, {"direction", now.is_out ? "out" : "back"}});
  }
  road.update(write_pulls(folder, {"road", {1, 2, 4}, 4}, {before, after}, day));
  write("road_session.json", road);

  map_axes axes;
  fettle::write_map_csv(
      folder / "torque_map.csv",
      {.axis_names = {"rpm", "throttle_pct"},
       .table = rounded(sampled(axes, [&](double rpm, double pct) { return after.torque_nm(rpm, pct); }), 2),
       .descending = {false, false}});
  json car = described_car(after);
  car["engine_kgm2"] = change.engine_kgm2;
  car["road_load"] = {{"A_N", before.body.load.constant_n},
                      {"B_Ns_per_m", before.body.load.linear_ns_per_m},
                      {"C_Ns2_per_m2", before.body.load.quadratic_ns2_per_m2}};
  write("shift_session.json",
        {{"title", "Shifts of the invented hill-climb car"},
         {"car", car},
         {"torque_map", "torque_map.csv"},
         {"limit_rpm", 8800},
         {"overrun", {{"rpm", {1000, 3000, 5000, 7000, 9000}}, {"torque_nm", {-13, -17, -23, -31, -42}}}},
         {"throttle", {{"closed_pct", 0}, {"actuator_pct_per_s", 1000}, {"delay_rev", 1.2}}},
         {"blip",
          {{"wanted_s", 0.15},
           {"longest_s", 0.5},
           {"throttle_guard", {{"rpm", {1000, 9000}}, {"throttle_pct", {37, 45}}}}}}});
  write("truth/car.json", {{"engine_before_kgm2", before.body.turning.engine_kgm2},
                           {"engine_after_kgm2", change.engine_kgm2},
                           {"gain_pct", 100 * (change.torque_factor - 1)},
                           {"road_load", car["road_load"]}});
  return {folder / "dyno_session.json", folder / "road_session.json", folder / "shift_session.json"};
}

}  // namespace virtual_engine

// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <string>
#include <utility>
#include <vector>

#include "common/session/next_session.hpp"
#include "common/session/read_session.hpp"
#include "compare_passes/job.hpp"
#include "correct_map/files.hpp"
#include "correct_map/job.hpp"
#include "fettle/io.hpp"
#include "virtual_engine/loaded_maps.hpp"
#include "virtual_engine/physics.hpp"
#include "virtual_engine/plan_drive.hpp"
#include "virtual_engine/read_plan.hpp"
#include "virtual_engine/session.hpp"
#include "virtual_engine/simulate.hpp"
#include "virtual_engine/stage_drive.hpp"

namespace passes_table {

namespace fs = std::filesystem;

/// What a loop is driven under.
struct conditions {
  std::vector<std::string> physics{};  ///< that the library's model lacks
  bool follows_plan = false;           ///< from the second pass on; else every drive is an ordinary one
  double minutes = 10;                 ///< of each drive
  std::size_t passes = 4;
};

/// One pass: what was driven, and what became of the map.
struct pass {
  std::vector<double> rpm{}, throttle_pct{};      ///< of the rows with fuel
  std::vector<fettle::cell_evidence> evidence{};  ///< from all logs so far
  std::vector<double> map{};                      ///< the cells that are loaded for the next pass
  std::size_t compared = 0, as_predicted = 0;     ///< cells of this log alone against the correction before it
};

namespace detail {

inline void write_map(const fs::path& path, virtual_engine::map cells) {
  fettle::write_map_csv(
      path, {.axis_names = {"rpm", "throttle_pct"}, .table = std::move(cells), .descending = {false, false}});
}

inline void write_session(const fs::path& folder, const nlohmann::ordered_json& content) {
  fettle::write_atomically(folder / "session.json", content.dump(2) + "\n");
}

/// The session of a drive: of the car as it came, or the one before with another log.
inline session::session begin(const fs::path& folder, const fs::path& before, const virtual_engine::engine& e,
                              std::uint64_t seed) {
  fs::create_directories(folder / "corrected");
  if (before.empty()) {
    write_map(folder / "fuel_map.csv", virtual_engine::base_fuel_map(e, seed));
    write_map(folder / "share_map.csv", virtual_engine::share_map());
    write_session(
        folder, virtual_engine::session_json(e, e.bank, {"log.csv"}, false, virtual_engine::knowledge::estimate, seed));
  } else {
    auto next = session::session_seen_from(session::read_session(before), folder);
    next["logs"].push_back({{"file", "log.csv"}});
    write_session(folder, next);
  }
  return session::read_session(folder / "session.json");
}

inline void drive_into(pass& now, const session::session& session, const virtual_engine::engine& e,
                       const virtual_engine::drive& driven, std::uint64_t day) {
  const auto log = simulate(e, virtual_engine::controller_of(session), driven, {.seed = day}).log;
  fettle::write_log_csv(session.log_paths.back(), log);
  const auto &cut = *log.find("fuel_cut"), &rpm = *log.find("rpm"), &throttle_pct = *log.find("throttle_pct");
  for (std::size_t i = 0; i < log.rows(); ++i) {
    if (cut[i] != 0) continue;
    now.rpm.push_back(rpm[i]);
    now.throttle_pct.push_back(throttle_pct[i]);
  }
}

inline void silent(const std::string& /*stage*/, double /*fraction*/) {}

}  // namespace detail

/// Drives, corrects, loads and drives again, by the programs' own functions on files in a folder.
///
/// A map that must not be loaded is not: the next drive is on the one before. Drivers, days and noise are those of the
/// pass, with a plan and without.
[[nodiscard]] inline std::vector<pass> drive_passes(const fs::path& folder, std::uint64_t seed,
                                                    const conditions& under) {
  using namespace virtual_engine;
  engine e = engine::from_seed(seed);
  add_physics(e, under.physics, seed);
  std::vector<pass> result;
  fs::path last, loaded;  // sessions: of the drive before, and that to drive next
  for (std::size_t number = 1; number <= under.passes; ++number) {
    const fs::path here = folder / std::to_string(number), corrected = here / "corrected";
    const std::uint64_t day = seed + 1000 * number;
    const session::session session = detail::begin(here, loaded, e, seed);
    pass now;
    detail::drive_into(now, session, e,
                       under.follows_plan && number > 1
                           ? plan_drive(read_plan(last.parent_path() / "corrected" / "drive_next.csv",
                                                  controller_of(session).fuel_mg()),
                                        day, under.minutes)
                           : stage_drive(day, under.minutes),
                       day);
    if (number > 1) {
      const auto step = compare_passes::run({session::read_session(last), session}, detail::silent).last().compared;
      now.compared = step.compared();
      now.as_predicted = step.count(fettle::pass_verdict::as_predicted);
    }
    const auto outcome = correct_map::run(session, {}, detail::silent);
    (void)correct_map::write_results(outcome, "", corrected);
    last = session.path;
    loaded = outcome.writes_map() ? corrected / "session.json" : last;
    now.evidence = outcome.evidence;
    const auto before = outcome.base.table.values();
    now.map = outcome.writes_map() ? outcome.corrected : std::vector<double>(before.begin(), before.end());
    result.push_back(std::move(now));
  }
  return result;
}

}  // namespace passes_table

// SPDX-License-Identifier: MIT
// Makes the logs of an invented engine with known truth: the session file and maps a tuner would have, one log per
// drive and, apart in DIR/truth, what is really so.
#include <fmt/core.h>

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <limits>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "common/command/kept_inputs.hpp"
#include "common/command/out_folder.hpp"
#include "common/command/run_program.hpp"
#include "common/session/json_reader.hpp"
#include "common/session/next_session.hpp"
#include "common/session/read_session.hpp"
#include "fettle/error.hpp"
#include "fettle/io/atomic_write.hpp"
#include "fettle/io/log_csv.hpp"
#include "fettle/io/map_csv.hpp"
#include "fettle/io/text.hpp"
#include "virtual_engine/car_files.hpp"
#include "virtual_engine/controller.hpp"
#include "virtual_engine/dyno_drive.hpp"
#include "virtual_engine/engine.hpp"
#include "virtual_engine/loaded_maps.hpp"
#include "virtual_engine/maps.hpp"
#include "virtual_engine/physics.hpp"
#include "virtual_engine/plan_drive.hpp"
#include "virtual_engine/read_plan.hpp"
#include "virtual_engine/session.hpp"
#include "virtual_engine/simulate.hpp"
#include "virtual_engine/stage_drive.hpp"

namespace {

namespace fs = std::filesystem;
using namespace virtual_engine;

struct request {
  fs::path out, session, plan;  // session: of the engine and the maps to drive; plan: of where to drive
  std::optional<std::uint64_t> seed;
  std::vector<std::string> drives{"stage"}, physics;
  double minutes = 15, secondary_flow_factor = 1;
  int rate_hz = 100;
  knowledge known = knowledge::estimate;
  bool cylinder_sensors = false, no_noise = false, car = false;
  std::size_t rotated_runs = 0;
};

drive named_drive(const request& request, const std::string& name, const map& loaded, std::uint64_t seed) {
  if (name == "stage") return stage_drive(seed, request.minutes);
  if (name == "dyno") return dyno_drive(seed, request.minutes);
  if (name == "plan") return plan_drive(read_plan(request.plan, loaded), seed, request.minutes);
  return pull_drive(seed);
}

void write_map(const fs::path& path, map cells) {
  fettle::write_map_csv(
      path, {.axis_names = {"rpm", "throttle_pct"}, .table = std::move(cells), .descending = {false, false}});
  fmt::print("{}\n", fettle::path_text(path));
}

void write_json(const fs::path& path, const nlohmann::ordered_json& content) {
  fettle::write_atomically(path, content.dump(2) + "\n");
  fmt::print("{}\n", fettle::path_text(path));
}

/// Logs and the names of their files, without a folder.
struct named_logs {
  std::vector<std::string> names;
  std::vector<fettle::log_table> logs;
};

void write_logs(const fs::path& folder, const named_logs& driven) {
  for (std::size_t i = 0; i < driven.logs.size(); ++i) {
    const fs::path path = folder / driven.names[i];
    fettle::write_log_csv(path, driven.logs[i]);
    fmt::print("{}: {} rows, {} columns\n", fettle::path_text(path), driven.logs[i].rows(),
               driven.logs[i].names.size());
  }
}

void write_truth(const fs::path& folder, const engine& e, std::uint64_t engine_seed) {
  const auto air = [&](double rpm, double throttle_pct) { return e.air_mg(rpm, throttle_pct); };
  write_map(folder / "air_map.csv", rounded(sampled(map_axes{}, air), 4));
  write_map(folder / "fuel_map.csv", rounded(ideal_fuel_map(e), 5));
  write_json(folder / "truth.json", truth_json(e, engine_seed));
}

bool is_truth_of(const fs::path& file, std::uint64_t engine_seed) {
  try {
    const auto truth = session::json_value::from_file(file);
    return truth.has("seed") && truth["seed"].whole(0, std::numeric_limits<std::size_t>::max()) == engine_seed;
  } catch (const fettle::error&) {
    return false;
  }
}

/// Refuses a folder of truth that is another engine's.
void require_truth_of(const fs::path& folder, std::uint64_t engine_seed) {
  const fs::path file = folder / "truth.json";
  if (fs::exists(file) && !is_truth_of(file, engine_seed))
    throw fettle::error(fmt::format("{}: is not the truth of the session's engine, seed {}; give --out another folder",
                                    fettle::path_text(file), engine_seed));
}

/// The names of the logs that a request makes: one per kind of drive, or one per run of a rotation.
std::vector<std::string> log_names(const request& request) {
  std::vector<std::string> names;
  for (std::size_t run = 0; run < request.rotated_runs; ++run)
    names.push_back(fmt::format("{}_{}.csv", request.drives[0], run + 1));
  if (request.rotated_runs > 0) return names;
  for (const auto& kind : request.drives)
    if (std::find(names.begin(), names.end(), kind + ".csv") == names.end()) names.push_back(kind + ".csv");
  return names;
}

/// The cylinder of a pipe sensor in a run of a rotation: all sensors move on by one pipe from run to run.
std::size_t rotated(std::size_t sensor, std::size_t run) {
  return 1 + (sensor - 1 + run) % cylinders;
}

/// Drives all logs of a request; in a rotation the pipe sensors move on by one pipe between runs.
named_logs drive_all(const request& request, engine e, const alpha_n_controller& controller, std::uint64_t seed,
                     bool cylinder_sensors) {
  named_logs driven{.names = log_names(request), .logs = {}};
  const bool is_rotation = request.rotated_runs > 0;
  for (std::size_t run = 0; run < driven.names.size(); ++run) {
    const std::string kind = is_rotation ? request.drives[0] : fs::path(driven.names[run]).stem().string();
    for (std::size_t i = 1; is_rotation && i <= cylinders; ++i) e.sensor[i].cylinder = rotated(i, run);
    driven.logs.push_back(  // nobody drives the same twice
        simulate(e, alpha_n_controller{controller},
                 named_drive(request, kind, controller.fuel_mg(), seed + (is_rotation ? run : 0)),
                 {.rate_hz = request.rate_hz,
                  .cylinder_sensors = cylinder_sensors || is_rotation,
                  .noise = !request.no_noise,
                  .seed = seed + 1000 * (run + 1)})
            .log);
  }
  return driven;
}

nlohmann::ordered_json assignment(const engine& e, std::size_t run) {
  nlohmann::ordered_json result;
  for (std::size_t i = 1; i <= cylinders; ++i) result[e.sensor[i].name] = rotated(i, run);
  return result;
}

/// The car as it came: its map, its session, and logs of the first drives.
int drive_first(const request& request) {
  const std::uint64_t seed = request.seed.value_or(1);
  engine e = engine::from_seed(seed);
  add_physics(e, request.physics, seed);
  auto described = e.bank;
  described[1].flow_mg_ms *= request.secondary_flow_factor;
  const map base = base_fuel_map(e, seed), share = share_map();
  const alpha_n_controller controller{base, share, described};
  const named_logs driven = drive_all(request, e, controller, seed, request.cylinder_sensors);
  fs::create_directories(request.out / "truth");
  write_logs(request.out, driven);
  write_map(request.out / "fuel_map.csv", base);
  write_map(request.out / "share_map.csv", share);
  auto session = session_json(e, described, driven.names, request.cylinder_sensors || request.rotated_runs > 0,
                              request.known, seed);
  for (std::size_t run = 0; run < request.rotated_runs; ++run) session["logs"][run]["assignment"] = assignment(e, run);
  write_json(request.out / "session.json", session);
  write_truth(request.out / "truth", e, seed);
  return 0;
}

/// The engine of a session again, with that session's maps loaded; its logs stay in the new session.
int drive_next(const request& request) {
  const session::session session = session::read_session(request.session);
  if (!session.virtual_engine_seed)
    throw fettle::error(fettle::path_text(session.path) +
                        ": names no virtual engine; expected \"virtual_engine\": {\"seed\": 1}");
  const std::uint64_t engine_seed = *session.virtual_engine_seed;
  require_truth_of(request.out / "truth", engine_seed);
  if (request.rotated_runs > 0 && session.sensors.size() <= cylinders)
    throw fettle::error(fmt::format("{}: /sensors describes {}, but --rotated-runs moves one in each of the {} pipes",
                                    fettle::path_text(session.path), session.sensors.size(), cylinders));
  engine e = engine::from_seed(engine_seed);
  add_physics(e, request.physics, engine_seed);
  const std::uint64_t seed = request.seed.value_or(engine_seed + 100 * session.log_paths.size());  // another day
  auto written = log_names(request);
  written.push_back("session.json");
  program::require_inputs_kept(request.out, written, session.files());
  auto next = session::session_seen_from(session, request.out);
  const named_logs driven = drive_all(request, e, controller_of(session), seed, session.sensors.size() > 1);
  fs::create_directories(request.out / "truth");
  write_logs(request.out, driven);
  for (std::size_t run = 0; run < driven.names.size(); ++run) {
    next["logs"].push_back({{"file", driven.names[run]}});
    if (request.rotated_runs > 0) next["logs"].back()["assignment"] = assignment(e, run);
  }
  write_json(request.out / "session.json", next);
  write_truth(request.out / "truth", e, engine_seed);
  return 0;
}

int make(request request) {
  program::require_writable(request.out);  // before the work, not after it
  if (request.car) {
    for (const auto& path : write_car(request.out, request.seed.value_or(1)))
      fmt::print("{}\n", fettle::path_text(path));
    return 0;
  }
  const bool follows_plan = std::find(request.drives.begin(), request.drives.end(), "plan") != request.drives.end();
  if (follows_plan && request.plan.empty()) {
    if (request.session.empty())
      throw fettle::error("--drive plan needs --plan FILE, or --session beside a drive_next.csv");
    request.plan = request.session.parent_path() / "drive_next.csv";
  }
  return request.session.empty() ? drive_first(request) : drive_next(request);
}

}  // namespace

int main(int count, char** words) {
  request request;
  const auto know = [&](const std::string& word) {
    request.known = word == "exact" ? knowledge::exact : knowledge::estimate;
  };
  const program::command command{
      "virtual_engine",
      "Makes logs of an invented five-cylinder engine with known truth.",
      {program::required({"--out", &request.out, "folder for the files; the truth goes to its subfolder truth"}),
       {"--seed", &request.seed,
        "which engine, driver and noise, 1 unless given; with --session only which driver and noise"},
       {"--session", &request.session,
        "session file: its engine is driven again with its maps loaded; the new session has all its logs"},
       {.name = "--drive",
        .value = &request.drives,
        .says = "stage, dyno, pull or plan; may be given several times, one log each",
        .words = {"stage", "dyno", "pull", "plan"}},
       {"--plan", &request.plan,
        "drive_next.csv of correct_map, for --drive plan; the one beside the session unless given"},
       {"--minutes", &request.minutes, "length of a stage, dyno or plan drive", 0.1, 1000},
       {"--rate", &request.rate_hz, "log rows per second, a divisor of 1000"},
       {.name = "--known",
        .value = know,
        .says = "film, path and sensor values in the session file: exact, or an estimate",
        .words = {"exact", "estimate"},
        .unless_given = "estimate"},
       {"--secondary-flow-factor", &request.secondary_flow_factor,
        "how far off the controller's idea of the secondary injectors' flow is", 0.5, 2},
       {"--cylinder-sensors", &request.cylinder_sensors, "also log a lambda sensor in each of the five pipes"},
       {.name = "--rotated-runs",
        .value = &request.rotated_runs,
        .says = "this many logs of the first drive, the sensors in the pipes moving on by one pipe between them",
        .lowest = 1,
        .highest = 5,
        .unless_given = ""},
       {"--car", &request.car,
        "instead of drives: pulls before and after a change, coast-downs, a torque map, and the sessions of "
        "compare_pulls and plan_shifts"},
       {.name = "--physics",
        .value = &request.physics,
        .says = "what a plain model of the engine lacks: film, pipes, lag, reversion, misfire or all; several words "
                "with commas between them",
        .words = {"film", "pipes", "lag", "reversion", "misfire", "all"},
        .unless_given = "",
        .separator = ','},
       {"--no-noise", &request.no_noise, "sensors without noise and spikes"}},
      [&] { return make(request); }};
  return program::run_program(command, count, words);
}

// SPDX-License-Identifier: MIT
// Makes the logs of an invented engine with known truth: the session file and maps a tuner would have, one log per
// drive and, apart in DIR/truth, what is really so.
#include <fmt/core.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <string>
#include <utility>
#include <vector>

#include "common/command/out_folder.hpp"
#include "common/command/run_program.hpp"
#include "fettle/io.hpp"
#include "virtual_engine/dyno_drive.hpp"
#include "virtual_engine/physics.hpp"
#include "virtual_engine/session.hpp"
#include "virtual_engine/simulate.hpp"
#include "virtual_engine/stage_drive.hpp"

namespace {

namespace fs = std::filesystem;
using namespace virtual_engine;

struct request {
  fs::path out;
  std::uint64_t seed = 1;
  std::vector<std::string> drives{"stage"}, physics;
  double minutes = 15, secondary_flow_factor = 1;
  int rate_hz = 100;
  knowledge known = knowledge::estimate;
  bool cylinder_sensors = false, no_noise = false;
  std::size_t rotated_runs = 0;
};

drive named_drive(const request& asked, const std::string& name) {
  if (name == "stage") return stage_drive(asked.seed, asked.minutes);
  if (name == "dyno") return dyno_drive(asked.seed, asked.minutes);
  return pull_drive(asked.seed);
}

void write_map(const fs::path& path, map cells) {
  fettle::write_map_csv(
      path, {.axis_names = {"rpm", "throttle_pct"}, .table = std::move(cells), .descending = {false, false}});
  fmt::print("{}\n", path.string());
}

void write_json(const fs::path& path, const nlohmann::ordered_json& content) {
  fettle::write_atomically(path, content.dump(2) + "\n");
  fmt::print("{}\n", path.string());
}

/// The cylinder of a pipe sensor in a run of a rotation: all sensors move on by one pipe from run to run.
std::size_t rotated(std::size_t sensor, std::size_t run) {
  return 1 + (sensor - 1 + run) % cylinders;
}

/// Logs of one kind of drive between which the pipe sensors moved on.
void make_rotation(const request& asked, engine e, const alpha_n_controller& controller,
                   std::vector<std::string>& log_files, std::vector<fettle::log_table>& logs) {
  request one_run = asked;
  for (std::size_t run = 0; run < asked.rotated_runs; ++run) {
    for (std::size_t i = 1; i <= cylinders; ++i) e.sensor[i].cylinder = rotated(i, run);
    one_run.seed = asked.seed + run;  // nobody drives the same twice
    log_files.push_back(fmt::format("{}_{}.csv", asked.drives[0], run + 1));
    logs.push_back(simulate(e, alpha_n_controller{controller}, named_drive(one_run, asked.drives[0]),
                            {.rate_hz = asked.rate_hz,
                             .cylinder_sensors = true,
                             .noise = !asked.no_noise,
                             .seed = asked.seed + 1000 * log_files.size()})
                       .log);
  }
}

nlohmann::ordered_json assignment(const engine& e, std::size_t run) {
  nlohmann::ordered_json result;
  for (std::size_t i = 1; i <= cylinders; ++i) result[e.sensor[i].name] = rotated(i, run);
  return result;
}

int make(const request& asked) {
  program::require_writable(asked.out);  // before the work, not after it
  engine e = engine::from_seed(asked.seed);
  add_physics(e, asked.physics, asked.seed);
  auto believed = e.bank;
  believed[1].flow_mg_ms *= asked.secondary_flow_factor;
  const map base = base_fuel_map(e, asked.seed), share = share_map();

  std::vector<std::string> log_files;
  std::vector<fettle::log_table> logs;
  if (asked.rotated_runs > 0) make_rotation(asked, e, alpha_n_controller{base, share, believed}, log_files, logs);
  for (const auto& name : asked.rotated_runs > 0 ? std::vector<std::string>{} : asked.drives) {
    if (std::find(log_files.begin(), log_files.end(), name + ".csv") != log_files.end()) continue;
    log_files.push_back(name + ".csv");
    logs.push_back(simulate(e, alpha_n_controller{base, share, believed}, named_drive(asked, name),
                            {.rate_hz = asked.rate_hz,
                             .cylinder_sensors = asked.cylinder_sensors,
                             .noise = !asked.no_noise,
                             .seed = asked.seed + 1000 * log_files.size()})
                       .log);
  }

  fs::create_directories(asked.out / "truth");
  for (std::size_t i = 0; i < logs.size(); ++i) {
    const fs::path path = asked.out / log_files[i];
    fettle::write_log_csv(path, logs[i]);
    fmt::print("{}: {} rows, {} columns\n", path.string(), logs[i].rows(), logs[i].names.size());
  }
  write_map(asked.out / "fuel_map.csv", base);
  write_map(asked.out / "share_map.csv", share);
  auto session =
      session_json(e, believed, log_files, asked.cylinder_sensors || asked.rotated_runs > 0, asked.known, asked.seed);
  for (std::size_t run = 0; run < asked.rotated_runs; ++run) session["logs"][run]["assignment"] = assignment(e, run);
  write_json(asked.out / "session.json", session);
  const auto air = [&](double rpm, double throttle_pct) { return e.air_mg(rpm, throttle_pct); };
  write_map(asked.out / "truth" / "air_map.csv", rounded(sampled(map_axes{}, air), 4));
  write_map(asked.out / "truth" / "fuel_map.csv", rounded(ideal_fuel_map(e), 5));
  write_json(asked.out / "truth" / "truth.json", truth_json(e, asked.seed));
  return 0;
}

}  // namespace

int main(int count, char** words) {
  request asked;
  const auto options = [&](CLI::App& app) {
    app.add_option("--out", asked.out, "folder for the files; the truth goes to its subfolder truth")->required();
    app.add_option("--seed", asked.seed, "which engine, driver and noise")->capture_default_str();
    app.add_option("--drive", asked.drives, "stage, dyno or pull; may be given several times, one log each")
        ->check(CLI::IsMember({"stage", "dyno", "pull"}))
        ->capture_default_str();
    app.add_option("--minutes", asked.minutes, "length of a stage or dyno drive")
        ->check(CLI::Range(0.1, 1000.0))
        ->capture_default_str();
    app.add_option("--rate", asked.rate_hz, "log rows per second, a divisor of 1000")->capture_default_str();
    app.add_option_function<std::string>(
           "--known",
           [&](const std::string& word) { asked.known = word == "exact" ? knowledge::exact : knowledge::estimate; },
           "film, path and sensor values in the session file: exact, or an estimate")
        ->check(CLI::IsMember({"exact", "estimate"}))
        ->default_str("estimate");
    app.add_option("--secondary-flow-factor", asked.secondary_flow_factor,
                   "how far off the controller's idea of the secondary injectors' flow is")
        ->check(CLI::Range(0.5, 2.0))
        ->capture_default_str();
    app.add_flag("--cylinder-sensors", asked.cylinder_sensors, "also log a lambda sensor in each of the five pipes");
    app.add_option("--rotated-runs", asked.rotated_runs,
                   "this many logs of the first drive, the sensors in the pipes moving on by one pipe between them")
        ->check(CLI::Range(1, 5));
    app.add_option("--physics", asked.physics,
                   "what a plain model of the engine lacks: film, pipes, lag, reversion, misfire or all; several words "
                   "with commas between them")
        ->delimiter(',')
        ->check(CLI::IsMember({"film", "pipes", "lag", "reversion", "misfire", "all"}));
    app.add_flag("--no-noise", asked.no_noise, "sensors without noise and spikes");
  };
  return program::run_program("virtual_engine", "Makes logs of an invented five-cylinder engine with known truth.",
                              count, words, options, [&] { return make(asked); });
}

// SPDX-License-Identifier: MIT
// Brings in a second bank of injectors: are both large enough, where may the second one come in, what does that do to
// lambda on a virtual engine, and did it make power?
#include <filesystem>

#include "common/command/kept_inputs.hpp"
#include "common/command/run_job.hpp"
#include "common/command/run_program.hpp"
#include "common/session/read_session.hpp"
#include "fettle/io/text.hpp"
#include "stage_banks/files.hpp"
#include "stage_banks/job.hpp"
#include "stage_banks/report.hpp"
#include "stage_banks/terminal.hpp"

int main(int count, char** words) {
  std::filesystem::path session_path, out;
  stage_banks::choices choices;
  const auto work = [&] {
    const session::session session = session::read_session(session_path);
    auto inputs = session.files();
    if (!choices.films.empty()) inputs.push_back(choices.films);
    program::require_inputs_kept(out, stage_banks::result_names(), inputs);
    return program::run_job(
        {out, stage_banks::result_names()},
        [&](const auto& progress) { return stage_banks::run(session, choices, progress); }, stage_banks::report_html,
        stage_banks::write_results,
        [&](const auto& result) {
          return stage_banks::summary(result, fettle::path_text(out / stage_banks::share_map_name));
        });
  };
  const program::command command{
      "stage_banks",
      "Plans a second bank of injectors and tries the plan on a virtual engine. Exit code 0: "
      "done, 3: the plan must not be loaded, 2: it could not be done.",
      {program::required(
           {"session", &session_path, "session file (JSON): engine, fuel, two banks, map, target, staging"}),
       program::required({"--out", &out, "folder for maps, tables and the report; made if it is missing"}),
       {"--films", &choices.films,
        "summary.json of correct_map: film values and their standard errors as identified from logs, instead of the "
        "session's"},
       {"--seed", &choices.seed, "which virtual engine is driven, instead of the session's"},
       {"--pulls", &choices.pulls, "dyno pulls with each plan", 2, 200},
       {"--gain", &choices.gain_pct, "gain of torque in % for which the pulls needed are given", 0.01, 100},
       {"--write-anyway", &choices.writes_anyway, "write the share map even where it must not be loaded"}},
      work};
  return program::run_program(command, count, words);
}

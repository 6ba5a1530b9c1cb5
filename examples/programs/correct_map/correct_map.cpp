// SPDX-License-Identifier: MIT
// A log and a fuel map in, a corrected map and a report out: the map that would have put lambda on target, only where
// the log supports it.
#include <filesystem>

#include "common/command/kept_inputs.hpp"
#include "common/command/path_option.hpp"
#include "common/command/run_job.hpp"
#include "common/command/run_program.hpp"
#include "common/command/threads_option.hpp"
#include "common/session/next_session.hpp"
#include "common/session/read_session.hpp"
#include "correct_map/files.hpp"
#include "correct_map/job.hpp"
#include "correct_map/report.hpp"
#include "correct_map/terminal.hpp"
#include "fettle/io/text.hpp"

int main(int count, char** words) {
  std::filesystem::path session_path, out;
  correct_map::run_options how;
  bool leaves_undriven = false;
  const auto work = [&] {
    const session::session session = session::read_session(session_path);
    program::require_inputs_kept(out, correct_map::result_names(), session.files());
    session::require_nameable(session, out);
    if (leaves_undriven) how.undriven = fettle::undriven_cells::leave_alone;
    return program::run_job(
        {out, correct_map::result_names()},
        [&](const auto& progress) { return correct_map::run(session, how, progress); }, correct_map::report_html,
        correct_map::write_results,
        [&](const auto& result) {
          return correct_map::summary(result, fettle::path_text(out / correct_map::corrected_map_name));
        });
  };
  const program::command command{
      "correct_map",
      "Corrects a fuel map from lambda logs, only where the logs support it. Exit code 0: done, "
      "3: the map must not be loaded, 2: it could not be done.",
      {program::required({"session", &session_path, "session file (JSON): engine, fuel, banks, map, logs, sensors"}),
       program::required({"--out", &out, "folder for the corrected map and the report; made if it is missing"}),
       program::path_option(how.trust),
       {"--leave-undriven", &leaves_undriven,
        "leave cells that were not driven as they were, also where their surroundings are surely lean"},
       {"--visits", &how.visits, "number of points in the plan of the next drive; allow about 10 s for each", 1, 1000},
       program::threads_option(how.threads),
       {"--write-anyway", &how.writes_anyway, "write the map even where it must not be loaded"}},
      work};
  return program::run_program(command, count, words);
}

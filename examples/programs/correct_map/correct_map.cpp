// SPDX-License-Identifier: MIT
// A log and a fuel map in, a corrected map and a report out: the map that would have put lambda on target, only where
// the log supports it.
#include <CLI/CLI.hpp>
#include <filesystem>

#include "common/command/kept_inputs.hpp"
#include "common/command/path_option.hpp"
#include "common/command/run_job.hpp"
#include "common/command/run_program.hpp"
#include "common/session/read_session.hpp"
#include "correct_map/files.hpp"
#include "correct_map/job.hpp"
#include "correct_map/report.hpp"
#include "correct_map/terminal.hpp"

int main(int count, char** words) {
  std::filesystem::path session_path, out;
  session::path_trust trust = session::path_trust::prior;
  const auto options = [&](CLI::App& app) {
    app.add_option("session", session_path, "session file (JSON): engine, fuel, banks, map, logs, sensors")->required();
    app.add_option("--out", out, "folder for the corrected map and the report; made if it is missing")->required();
    program::add_path_option(app, trust);
  };
  const auto work = [&] {
    const session::session of = session::read_session(session_path);
    program::require_inputs_kept(out, correct_map::result_names(), of.files());
    return program::run_job(
        out, [&](const auto& progress) { return correct_map::run(of, trust, progress); }, correct_map::report_html,
        correct_map::write_results, correct_map::summary);
  };
  return program::run_program("correct_map", "Corrects a fuel map from lambda logs, only where the logs support it.",
                              count, words, options, work);
}

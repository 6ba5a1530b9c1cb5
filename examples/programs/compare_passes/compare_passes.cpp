// SPDX-License-Identifier: MIT
// Two passes beside each other: what the correction of one predicted, and what the logs of the next show.
#include <filesystem>
#include <vector>

#include "common/command/kept_inputs.hpp"
#include "common/command/run_job.hpp"
#include "common/command/run_program.hpp"
#include "common/session/read_session.hpp"
#include "compare_passes/files.hpp"
#include "compare_passes/job.hpp"
#include "compare_passes/report.hpp"
#include "compare_passes/terminal.hpp"

int main(int count, char** words) {
  std::vector<std::filesystem::path> paths;
  std::filesystem::path out;
  const auto work = [&] {
    std::vector<session::session> sessions;
    std::vector<std::filesystem::path> inputs;
    for (const auto& path : paths) {
      sessions.push_back(session::read_session(path));
      for (const auto& file : sessions.back().files()) inputs.push_back(file);
    }
    program::require_inputs_kept(out, compare_passes::result_names(), inputs);
    return program::run_job(
        {out, compare_passes::result_names()},
        [&](const auto& progress) { return compare_passes::run(sessions, progress); }, compare_passes::report_html,
        compare_passes::write_results, compare_passes::summary);
  };
  const program::command command{
      "compare_passes",
      "Compares what corrections predicted with what the logs of the next drives show.",
      {program::required({"sessions", &paths,
                          "session files in the order of the passes, two or more: the first was corrected, each later "
                          "one has the corrected map and logs driven on it",
                          2, 100}),
       program::required({"--out", &out, "folder for tables and the report; made if it is missing"})},
      work};
  return program::run_program(command, count, words);
}

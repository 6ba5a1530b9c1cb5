// SPDX-License-Identifier: MIT
// Compares full-throttle pulls before and after a change: did it make power, what is lighter, how many pulls are missing?
#include <filesystem>

#include "common/command/kept_inputs.hpp"
#include "common/command/run_job.hpp"
#include "common/command/run_program.hpp"
#include "common/vehicle/road_caution.hpp"
#include "compare_pulls/files.hpp"
#include "compare_pulls/job.hpp"
#include "compare_pulls/read_settings.hpp"
#include "compare_pulls/report.hpp"
#include "compare_pulls/terminal.hpp"

int main(int count, char** words) {
  std::filesystem::path session_path, out;
  const auto work = [&] {
    const auto settings = compare_pulls::read_settings(session_path);
    program::require_inputs_kept(out, compare_pulls::result_names(), settings.files());
    return program::run_job(
        {out, compare_pulls::result_names()},
        [&](const auto& progress) { return compare_pulls::run(settings, progress); }, compare_pulls::report_html,
        compare_pulls::write_results,
        [](const auto& result) { return compare_pulls::summary(result) + "! " + std::string(vehicle::road_caution); });
  };
  const program::command command{
      "compare_pulls",
      "Says what a change of the car did, from pulls before and after.",
      {program::required(
           {"session", &session_path, "session file (JSON): the car, pulls before and after, coast-downs"}),
       program::required({"--out", &out, "folder for tables and the report; made if it is missing"})},
      work};
  return program::run_program(command, count, words);
}

// SPDX-License-Identifier: MIT
// Plans gear shifts from the torque map, the gears and the inertia: when to change up, how long to cut, how to blip.
#include <filesystem>
#include <string>

#include "common/command/kept_inputs.hpp"
#include "common/command/run_job.hpp"
#include "common/command/run_program.hpp"
#include "common/vehicle/road_caution.hpp"
#include "plan_shifts/files.hpp"
#include "plan_shifts/job.hpp"
#include "plan_shifts/read_settings.hpp"
#include "plan_shifts/report.hpp"
#include "plan_shifts/terminal.hpp"

int main(int count, char** words) {
  std::filesystem::path session_path, out;
  const auto work = [&] {
    const auto settings = plan_shifts::read_settings(session_path);
    program::require_inputs_kept(out, plan_shifts::result_names(), {settings.path, settings.torque_path});
    return program::run_job(
        {out, plan_shifts::result_names()}, [&](const auto& progress) { return plan_shifts::run(settings, progress); },
        plan_shifts::report_html, plan_shifts::write_results,
        [](const auto& result) { return plan_shifts::summary(result) + "! " + std::string(vehicle::road_caution); });
  };
  const program::command command{
      "plan_shifts",
      "Plans shift speeds, torque cuts and blips from a torque map.",
      {program::required(
           {"session", &session_path, "session file (JSON): the car, its torque map, throttle and gearbox"}),
       program::required({"--out", &out, "folder for maps, tables and the report; made if it is missing"})},
      work};
  return program::run_program(command, count, words);
}

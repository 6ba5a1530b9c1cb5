// SPDX-License-Identifier: MIT
// Logs with lambda sensors in the pipes in, a fuel trim per cylinder and a report out: sensors are distinguished from
// cylinders when they were moved between runs, and the leanest cylinder is always in sight.
#include <fmt/core.h>

#include <cstddef>
#include <filesystem>
#include <string>
#include <vector>

#include "common/command/kept_inputs.hpp"
#include "common/command/path_option.hpp"
#include "common/command/run_job.hpp"
#include "common/command/run_program.hpp"
#include "common/command/threads_option.hpp"
#include "common/session/next_session.hpp"
#include "common/session/read_session.hpp"
#include "fettle/error.hpp"
#include "fettle/io/text.hpp"
#include "trim_cylinders/files.hpp"
#include "trim_cylinders/job.hpp"
#include "trim_cylinders/report.hpp"
#include "trim_cylinders/terminal.hpp"

namespace {

/// Prints the fewest runs for the session's own sensors, and what to write into it.
int print_plan(const std::filesystem::path& session_path) {
  const auto result = session::read_session(session_path);
  std::vector<std::string> names;
  bool collector = false;
  for (const auto& sensor : result.sensors) {
    if (sensor.cylinders.size() == 1)
      names.push_back(sensor.name);
    else if (sensor.cylinders.empty())
      collector = collector || sensor.is_calibrated;
  }
  const auto plan = fettle::plan_rotation(names.size(), result.cylinders, collector);
  fmt::print("{} run{} distinguish every cylinder from every sensor:\n", plan.size(), plan.size() == 1 ? "" : "s");
  for (std::size_t r = 0; r < plan.size(); ++r) {
    fmt::print("  {{\"file\": \"run_{}.csv\", \"assignment\": {{", r + 1);
    for (std::size_t j = 0; j < names.size(); ++j) fmt::print("{}\"{}\": {}", j > 0 ? ", " : "", names[j], plan[r][j]);
    fmt::print("}}}}{}\n", r + 1 < plan.size() ? "," : "");
  }
  return 0;
}

}  // namespace

int main(int count, char** words) {
  std::filesystem::path session_path, out;
  trim_cylinders::run_options how;
  bool plan_only = false;
  const auto work = [&] {
    if (plan_only) return print_plan(session_path);
    if (out.empty()) throw fettle::error("--out or --plan is required; --help lists what there is");
    const session::session session = session::read_session(session_path);
    program::require_inputs_kept(out, trim_cylinders::result_names(session.cylinders), session.files());
    session::require_nameable(session, out);
    return program::run_job(
        {out, trim_cylinders::result_names(session.cylinders)},
        [&](const auto& progress) { return trim_cylinders::run(session, how, progress); }, trim_cylinders::report_html,
        trim_cylinders::write_results,
        [&](const auto& result) { return trim_cylinders::summary(result, fettle::path_text(out / "")); });
  };
  const program::command command{
      "trim_cylinders",
      "Finds a fuel trim per cylinder from lambda sensors in the pipes. Exit code 0: done, 3: "
      "the trims must not be loaded, "
      "2: it could not be done.",
      {program::required({"session", &session_path, "session file (JSON): engine, fuel, banks, map, logs, sensors"}),
       {.name = "--out",
        .value = &out,
        .says = "folder for the trims and the report; made if it is missing",
        .excludes = "--plan"},
       {"--plan", &plan_only, "only say which sensor to put where in which run, before measuring"},
       program::path_option(how.trust),
       program::threads_option(how.threads),
       {"--write-anyway", &how.writes_anyway, "write the trims even where they must not be loaded"}},
      work};
  return program::run_program(command, count, words);
}

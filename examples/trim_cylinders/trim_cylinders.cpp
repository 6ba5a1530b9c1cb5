// SPDX-License-Identifier: MIT
// Logs with lambda sensors in the pipes in, a fuel trim per cylinder and a report out: sensors told apart from
// cylinders when they were moved between runs, the leanest cylinder always in sight.
#include <fmt/core.h>

#include <CLI/CLI.hpp>
#include <cstddef>
#include <exception>
#include <filesystem>
#include <map>
#include <string>
#include <vector>

#include "report/cautions.hpp"
#include "report/progress.hpp"
#include "session/out_folder.hpp"
#include "trim_cylinders/files.hpp"
#include "trim_cylinders/job.hpp"
#include "trim_cylinders/report.hpp"
#include "trim_cylinders/terminal.hpp"

namespace {

void trim(const std::filesystem::path& session_path, const std::filesystem::path& out, session::path_trust trust) {
  session::require_writable(out);  // before the work, not after it
  report::progress progress;
  const auto result = trim_cylinders::run(
      session_path, trust, [&](const std::string& stage, double fraction) { progress.show(fraction, stage); });
  const std::string page = trim_cylinders::report_html(result);
  progress.erase();
  std::filesystem::create_directories(out);
  const auto written = trim_cylinders::write_results(result, page, out);

  fmt::print("{}\n", trim_cylinders::summary(result));
  for (const auto caution : report::cautions) fmt::print("! {}\n", caution);
  fmt::print("\n");
  for (const auto& path : written) fmt::print("{}\n", path.string());
}

/// The fewest runs for the session's own sensors, and what to write into it.
void print_plan(const std::filesystem::path& session_path) {
  const auto of = session::read_session(session_path);
  std::vector<std::string> names;
  bool collector = false;
  for (const auto& sensor : of.sensors) {
    if (sensor.cylinder > 0)
      names.push_back(sensor.name);
    else
      collector = collector || sensor.is_calibrated;
  }
  const auto plan = fettle::plan_rotation(names.size(), of.cylinders, collector);
  fmt::print("{} run{} tell every cylinder from every sensor:\n", plan.size(), plan.size() == 1 ? "" : "s");
  for (std::size_t r = 0; r < plan.size(); ++r) {
    fmt::print("  {{\"file\": \"run_{}.csv\", \"assignment\": {{", r + 1);
    for (std::size_t j = 0; j < names.size(); ++j) fmt::print("{}\"{}\": {}", j > 0 ? ", " : "", names[j], plan[r][j]);
    fmt::print("}}}}{}\n", r + 1 < plan.size() ? "," : "");
  }
}

}  // namespace

int main(int count, char** words) {
  std::filesystem::path session_path, out;
  session::path_trust trust = session::path_trust::prior;
  bool plan_only = false;
  CLI::App app{"Finds a fuel trim per cylinder from lambda sensors in the pipes.", "trim_cylinders"};
  app.add_option("session", session_path, "session file (JSON): engine, fuel, banks, map, logs, sensors")->required();
  auto* const folder = app.add_option("--out", out, "folder for the trims and the report; made if it is missing");
  auto* const plan =
      app.add_flag("--plan", plan_only, "only say which sensor to put where in which run, before measuring");
  folder->excludes(plan);
  app.add_option("--path", trust, "exhaust path and wall film: found from the logs, or as given in the session file")
      ->transform(CLI::CheckedTransformer(std::map<std::string, session::path_trust>{
          {"found", session::path_trust::prior}, {"given", session::path_trust::given}}))
      ->default_str("found");
  try {
    app.parse(count, words);
    if (!plan_only && out.empty()) throw CLI::RequiredError("--out or --plan");
    if (plan_only)
      print_plan(session_path);
    else
      trim(session_path, out, trust);
  } catch (const CLI::ParseError& problem) {
    return app.exit(problem) == 0 ? 0 : 2;
  } catch (const std::exception& problem) {
    fmt::print(stderr, "trim_cylinders: {}\n", problem.what());
    return 2;
  }
}

// SPDX-License-Identifier: MIT
// A log and a fuel map in, a corrected map and a report out: the map that would have put lambda on target, only where
// the log supports it.
#include <fmt/core.h>

#include <CLI/CLI.hpp>
#include <cstddef>
#include <exception>
#include <filesystem>
#include <map>
#include <string>

#include "correct_map/files.hpp"
#include "correct_map/job.hpp"
#include "correct_map/report.hpp"
#include "correct_map/terminal.hpp"
#include "report/cautions.hpp"
#include "report/progress.hpp"
#include "session/out_folder.hpp"

namespace {

void correct(const std::filesystem::path& session_path, const std::filesystem::path& out, session::path_trust trust) {
  session::require_writable(out);  // before the work, not after it
  report::progress progress;
  const auto result = correct_map::run(
      session_path, trust, [&](const std::string& stage, double fraction) { progress.show(fraction, stage); });
  const std::string page = correct_map::report_html(result);
  progress.erase();
  std::filesystem::create_directories(out);
  const auto written = correct_map::write_results(result, page, out);

  fmt::print("{}\n", correct_map::summary(result));
  for (const auto caution : report::cautions) fmt::print("! {}\n", caution);
  fmt::print("\n");
  for (const auto& path : written) fmt::print("{}\n", path.string());
}

}  // namespace

int main(int count, char** words) {
  std::filesystem::path session_path, out;
  session::path_trust trust = session::path_trust::prior;
  CLI::App app{"Corrects a fuel map from lambda logs, only where the logs support it.", "correct_map"};
  app.add_option("session", session_path, "session file (JSON): engine, fuel, banks, map, logs, sensors")->required();
  app.add_option("--out", out, "folder for the corrected map and the report; made if it is missing")->required();
  app.add_option("--path", trust, "exhaust path and wall film: found from the logs, or as given in the session file")
      ->transform(CLI::CheckedTransformer(std::map<std::string, session::path_trust>{
          {"found", session::path_trust::prior}, {"given", session::path_trust::given}}))
      ->default_str("found");
  try {
    app.parse(count, words);
    correct(session_path, out, trust);
  } catch (const CLI::ParseError& problem) {
    return app.exit(problem) == 0 ? 0 : 2;
  } catch (const std::exception& problem) {
    fmt::print(stderr, "correct_map: {}\n", problem.what());
    return 2;
  }
}

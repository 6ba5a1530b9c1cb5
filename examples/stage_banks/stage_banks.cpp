// SPDX-License-Identifier: MIT
// Brings in a second bank of injectors: are both large enough, where may the second one come in, what does that do to
// lambda on a virtual engine, and did it make power?
#include <fmt/core.h>

#include <CLI/CLI.hpp>
#include <exception>
#include <filesystem>
#include <string>

#include "report/cautions.hpp"
#include "report/progress.hpp"
#include "session/out_folder.hpp"
#include "stage_banks/files.hpp"
#include "stage_banks/job.hpp"
#include "stage_banks/report.hpp"
#include "stage_banks/terminal.hpp"

namespace {

void stage(const std::filesystem::path& session_path, const std::filesystem::path& out,
           const stage_banks::wishes& asked) {
  session::require_writable(out);  // before the work, not after it
  report::progress progress;
  const auto result = stage_banks::run(
      session_path, asked, [&](const std::string& part, double fraction) { progress.show(fraction, part); });
  const std::string page = stage_banks::report_html(result);
  progress.erase();
  std::filesystem::create_directories(out);
  const auto written = stage_banks::write_results(result, page, out);

  fmt::print("{}\n", stage_banks::summary(result));
  for (const auto caution : report::cautions) fmt::print("! {}\n", caution);
  fmt::print("\n");
  for (const auto& path : written) fmt::print("{}\n", path.string());
}

}  // namespace

int main(int count, char** words) {
  std::filesystem::path session_path, out;
  stage_banks::wishes asked;
  CLI::App app{"Plans a second bank of injectors and tries the plan on a virtual engine.", "stage_banks"};
  app.add_option("session", session_path, "session file (JSON): engine, fuel, two banks, map, target, staging")
      ->required();
  app.add_option("--out", out, "folder for maps, tables and the report; made if it is missing")->required();
  app.add_option("--seed", asked.seed, "which virtual engine is driven, instead of the session's");
  app.add_option("--pulls", asked.pulls, "dyno pulls with each plan")->check(CLI::Range(2, 200))->capture_default_str();
  app.add_option("--gain", asked.gain_pct, "gain of torque in % for which the pulls needed are given")
      ->check(CLI::Range(0.01, 100.0))
      ->capture_default_str();
  try {
    app.parse(count, words);
    stage(session_path, out, asked);
  } catch (const CLI::ParseError& problem) {
    return app.exit(problem) == 0 ? 0 : 2;
  } catch (const std::exception& problem) {
    fmt::print(stderr, "stage_banks: {}\n", problem.what());
    return 2;
  }
}

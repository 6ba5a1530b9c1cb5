// SPDX-License-Identifier: MIT
// Two passes beside each other: what the correction of one predicted, and what the logs of the next show.
#include <CLI/CLI.hpp>
#include <filesystem>

#include "common/command/kept_inputs.hpp"
#include "common/command/run_job.hpp"
#include "common/command/run_program.hpp"
#include "common/session/read_session.hpp"
#include "compare_passes/files.hpp"
#include "compare_passes/job.hpp"
#include "compare_passes/report.hpp"
#include "compare_passes/terminal.hpp"

int main(int count, char** words) {
  std::filesystem::path earlier_path, later_path, out;
  const auto options = [&](CLI::App& app) {
    app.add_option("earlier", earlier_path, "session file that was corrected")->required();
    app.add_option("later", later_path, "session file of the next drive, with the corrected map and logs driven on it")
        ->required();
    app.add_option("--out", out, "folder for tables and the report; made if it is missing")->required();
  };
  const auto work = [&] {
    const session::session earlier = session::read_session(earlier_path), later = session::read_session(later_path);
    auto inputs = earlier.files();
    for (const auto& path : later.files()) inputs.push_back(path);
    program::require_inputs_kept(out, compare_passes::result_names(), inputs);
    return program::run_job(
        out, [&](const auto& progress) { return compare_passes::run(earlier, later, progress); },
        compare_passes::report_html, compare_passes::write_results, compare_passes::summary);
  };
  return program::run_program("compare_passes",
                              "Compares what a correction predicted with what the logs of the next drive show.", count,
                              words, options, work);
}

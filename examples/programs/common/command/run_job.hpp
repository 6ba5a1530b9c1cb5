// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/core.h>

#include <filesystem>
#include <string>

#include "common/command/out_folder.hpp"
#include "common/report/cautions.hpp"
#include "common/report/progress.hpp"
#include "fettle/io/text.hpp"

namespace program {

/// Does a job on a session, leaves its files in a folder and says on the terminal what came out, and which files of an
/// earlier run it did not replace; the exit code, that of the outcome if it has one.
///
/// @param run            is given a callable that takes the stage and its fraction done, and returns the outcome.
/// @param report_html    the report's page from the outcome.
/// @param write_results  writes outcome and page into the folder, gives the files written.
/// @param summary        the outcome in a few lines.
template <class Run, class Report, class Write, class Summary>
[[nodiscard]] int run_job(const out_folder& out, Run run, Report report_html, Write write_results, Summary summary) {
  require_writable(out.path);  // before the work, not after it
  report::progress progress;
  const auto outcome = run([&](const std::string& stage, double fraction) { progress.show(fraction, stage); });
  const std::string page = report_html(outcome);
  progress.erase();
  std::filesystem::create_directories(out.path);
  const auto written = write_results(outcome, page, out.path);

  fmt::print("{}\n", summary(outcome));
  for (const auto& path : out.left_over(written))
    fmt::print("! {} is from an earlier run and does not belong to these results\n", fettle::path_text(path));
  for (const auto caution : report::cautions) fmt::print("! {}\n", caution);
  fmt::print("\n");
  for (const auto& path : written) fmt::print("{}\n", fettle::path_text(path));
  if constexpr (requires { outcome.exit_code(); }) return outcome.exit_code();
  return 0;
}

}  // namespace program

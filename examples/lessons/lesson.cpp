// SPDX-License-Identifier: MIT
#include "lesson.hpp"

#include <CLI/CLI.hpp>
#include <filesystem>

#include "common/command/run_program.hpp"
#include "common/report/line_chart.hpp"
#include "fettle/error.hpp"
#include "fettle/io/atomic_write.hpp"

namespace lesson {

namespace {

void add(CLI::App& app, const option& option) {
  if (const auto* flag = std::get_if<bool*>(&option.value)) {
    app.add_flag(option.name, **flag, option.says);
    return;
  }
  app.add_option(option.name, *std::get<double*>(option.value), option.says)
      ->check(CLI::Range(option.lowest, option.highest))
      ->capture_default_str();
}

void write(const std::filesystem::path& path, const picture& drawn) {
  constexpr report::drawn_as styles[] = {report::drawn_as::line, report::drawn_as::line_and_points,
                                         report::drawn_as::dots};
  report::line_chart chart{.x_label = drawn.x_label, .y_label = drawn.y_label};
  for (const auto& line : drawn.lines) chart.series.push_back({line.name, line.x, line.y, styles[line.style]});
  const auto svg = report::draw(chart);
  if (!svg) throw fettle::error(path.string() + ": not drawn; gnuplot, which draws it, is not in PATH or failed");
  fettle::write_atomically(path, *svg);
}

}  // namespace

int run(const about& lesson, int count, char** words, const std::function<picture()>& work) {
  std::filesystem::path path;
  const auto options = [&](CLI::App& app) {
    for (const auto& option : lesson.options) add(app, option);
    app.add_option("--picture", path, "SVG file to draw a picture into; needs gnuplot");
  };
  return program::run_program(lesson.name, lesson.purpose, count, words, options, [&] {
    const picture drawn = work();
    if (!path.empty()) write(path, drawn);
    return 0;
  });
}

}  // namespace lesson

// SPDX-License-Identifier: MIT
#include "lesson.hpp"

#include <filesystem>

#include "common/command/run_program.hpp"
#include "common/report/line_chart.hpp"
#include "fettle/error.hpp"
#include "fettle/io/atomic_write.hpp"

namespace lesson {

namespace {

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

int run(program::command lesson, int count, char** words, const std::function<picture()>& work) {
  std::filesystem::path path;
  lesson.options.push_back({"--picture", &path, "SVG file to draw a picture into; needs gnuplot"});
  lesson.work = [&] {
    const picture drawn = work();
    if (!path.empty()) write(path, drawn);
    return 0;
  };
  return program::run_program(lesson, count, words);
}

}  // namespace lesson

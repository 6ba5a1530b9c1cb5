// SPDX-License-Identifier: MIT
#include "common/report/surface_chart.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <string_view>

namespace report {
namespace {

using detail::plot_script, detail::growing_range, detail::roomy, detail::gnuplot_text, detail::datum;

void set_palette(plot_script& script, const colour_key& key) {
  constexpr int steps = 8;
  const range ends = roomy(key.ends(), 0);
  std::string colours;
  for (int i = 0; i <= steps; ++i)
    colours +=
        fmt::format("{}{} '{}'", i ? ", " : "", i, hex(key.at(std::lerp(ends.low, ends.high, i / double{steps}))));
  script.line("set palette defined ({})", colours);
  script.line("set cbrange [{}:{}]", datum(ends.low), datum(ends.high));
}

/// A round step that divides the range into three to six.
[[nodiscard]] double tic_step(range r) {
  const double raw = (r.high - r.low) / 5, power = std::pow(10, std::floor(std::log10(raw)));
  for (const double round : {1.0, 2.0, 2.5, 5.0})
    if (raw <= round * power) return round * power;
  return 10 * power;
}

void set_axis(plot_script& script, char axis, range r, std::string_view label, std::string_view label_place,
              std::string_view tic_place) {
  script.line("set {}range [{}:{}]", axis, datum(r.low), datum(r.high));
  script.line("set {}tics {} {}", axis, datum(tic_step(r)), tic_place);
  script.line("set {}label {} {}", axis, gnuplot_text(label), label_place);
}

void plot_surface(plot_script& script, const surface& s) {
  if (s.values.size() != s.rows.size() * s.columns.size())
    throw fettle::error(fmt::format("surface \"{}\": {} values for {} rows and {} columns", s.title, s.values.size(),
                                    s.rows.size(), s.columns.size()));
  const std::string data = script.begin_data();
  for (std::size_t i = 0; i < s.rows.size(); ++i) {
    for (std::size_t j = 0; j < s.columns.size(); ++j)
      script.row(s.rows[i], s.columns[j], s.values[i * s.columns.size() + j]);
    script.blank_row();
  }
  script.end_data();
  script.line("set title {} offset 0,0.6", gnuplot_text(s.title));
  script.item("{} with pm3d notitle", data);
  script.plot("splot");
}

}  // namespace

std::optional<std::string> draw(const surface_chart& chart) {
  growing_range rows, columns, values;
  std::vector<double> all;
  for (const auto& s : chart.surfaces) {
    rows.include(s.rows);
    columns.include(s.columns);
    values.include(s.values);
    all.insert(all.end(), s.values.begin(), s.values.end());
  }
  const range x = roomy(rows.value(), 0), y = roomy(columns.value(), 0), z = roomy(values.value(), 0);

  plot_script script(chart.size);
  set_palette(script, colour_key(chart.colours, all));
  script.line("set border 895 lc rgb '#888888'");  // all edges of the box but those in front of the surface
  script.line("set tics textcolor rgb '#1d2429' font 'sans-serif,13'");
  script.line("set pm3d depthorder border lc rgb '#1d2429' lw 0.5");
  script.line("set view 62,322,1.05,1.15");
  script.line("set xyplane at {}", datum(z.low));
  script.line("set grid x y z vertical lc rgb '#cccccc' lw 1");
  script.line("unset colorbox");
  set_axis(script, 'x', x, chart.row_label, "rotate parallel offset 0,-0.6", "offset 0.4,-0.4");
  set_axis(script, 'y', y, chart.column_label, "rotate parallel offset 0,-0.6", "offset -0.8,-0.4");
  set_axis(script, 'z', z, chart.value_label, "rotate by 90 offset 1.5,0", "");
  if (!values.any()) script.say_empty();
  script.line("set multiplot layout 1,{}", std::max<std::size_t>(chart.surfaces.size(), 1));
  for (const auto& s : chart.surfaces) plot_surface(script, s);
  script.line("unset multiplot");
  return run_gnuplot(script.text());
}

}  // namespace report

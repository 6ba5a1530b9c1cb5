// SPDX-License-Identifier: MIT
#include "common/report/line_chart.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace report {
namespace detail {

void check_lengths(std::string_view name, std::size_t x, std::size_t y) {
  if (x != y)
    throw fettle::error(fmt::format("chart series \"{}\": {} values of x and {} of y, give equally many", name, x, y));
}

}  // namespace detail

namespace {

using detail::plot_script, detail::check_lengths, detail::gnuplot_text, detail::series_style;

void plot_band(plot_script& script, const band& b, range x, std::size_t columns) {
  check_lengths(b.name, b.x.size(), b.low.size());
  check_lengths(b.name, b.x.size(), b.high.size());
  const auto low = thinned_line(b.x, b.low, x, columns), high = thinned_line(b.x, b.high, x, columns);
  const std::string data = script.begin_data();  // once around, against the clock
  for (const point& p : low)
    if (!std::isnan(p.y)) script.row(p.x, p.y);
  for (auto p = high.rbegin(); p != high.rend(); ++p)
    if (!std::isnan(p->y)) script.row(p->x, p->y);
  script.end_data();
  script.item("{} with filledcurves closed fc rgb '#9bbfb5' fs transparent solid 0.3 noborder title {}", data,
              gnuplot_text(b.name));
}

void plot_series(plot_script& script, const series& s, std::size_t index, range x, range y, picture_size size) {
  const auto pixels = [](int n) { return static_cast<std::size_t>(std::max(n, 16)); };
  constexpr int dot_px = 4, line_px = 3;  // as fine as the eye needs: a report has many charts
  const auto points = s.style == drawn_as::dots
                          ? thinned_cloud(s.x, s.y, x, y, pixels(size.width / dot_px), pixels(size.height / dot_px))
                          : thinned_line(s.x, s.y, x, pixels(size.width / line_px));
  if (points.empty()) return;
  const std::string data = script.begin_data();
  for (const point& p : points) script.row(p.x, p.y);
  script.end_data();
  const auto how = [&] {
    if (s.style == drawn_as::dots) return "with points ps 0.35";
    return s.style == drawn_as::line ? "with lines lw 1.6" : "with linespoints lw 1.6 ps 0.8";
  };
  script.item("{} {} {} title {}", data, how(), series_style(index), gnuplot_text(s.name));
}

}  // namespace

std::optional<std::string> draw(const line_chart& chart) {
  detail::growing_range all_x, all_y;
  for (const auto& s : chart.series) {
    detail::check_lengths(s.name, s.x.size(), s.y.size());
    all_x.include(s.x);
    all_y.include(s.y);
  }
  const bool empty = !all_x.any() || !all_y.any();
  if (chart.band) {
    all_x.include(chart.band->x);
    all_y.include(chart.band->low);
    all_y.include(chart.band->high);
  }
  for (const auto& limit : chart.limits) all_y.include(limit.at);
  const range x = chart.x_range.value_or(detail::roomy(all_x.value(), 0)),
              y = chart.y_range.value_or(detail::roomy(all_y.value(), 0.04));

  detail::plot_script script(chart.size);
  script.frame(chart.x_label, chart.y_label, x, y);
  if (empty) script.say_empty();
  if (chart.band) plot_band(script, *chart.band, x, static_cast<std::size_t>(chart.size.width));
  for (std::size_t i = 0; i < chart.series.size(); ++i) plot_series(script, chart.series[i], i, x, y, chart.size);
  script.limits(chart.limits);
  script.plot();
  return run_gnuplot(script.text());
}

}  // namespace report

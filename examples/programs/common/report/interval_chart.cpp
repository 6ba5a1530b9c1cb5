// SPDX-License-Identifier: MIT
#include "common/report/interval_chart.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>

namespace report {
namespace {

using detail::plot_script, detail::growing_range, detail::roomy, detail::gnuplot_text, detail::datum,
    detail::series_style, detail::check_lengths;

/// Places of the values and the distance they can spread over without meeting their neighbours.
struct interval_places {
  std::vector<double> x;
  double room = 1;
};

[[nodiscard]] interval_places places_of(const interval_chart& chart) {
  interval_places result;
  for (std::size_t i = 0; i < chart.groups.size(); ++i) result.x.push_back(static_cast<double>(i));
  if (!chart.groups.empty()) return result;
  result.x.assign(chart.x.begin(), chart.x.end());
  if (result.x.size() > 1) result.room = result.x.back() - result.x.front();
  for (std::size_t i = 1; i < result.x.size(); ++i) result.room = std::min(result.room, result.x[i] - result.x[i - 1]);
  return result;
}

void plot_intervals(plot_script& script, const interval_chart& chart, std::size_t index,
                    const interval_places& places) {
  const intervals& s = chart.series[index];
  for (const auto& column : {s.values, s.low, s.high}) check_lengths(s.name, places.x.size(), column.size());
  const bool bars = chart.style == interval_style::bars;
  const double spread = bars ? 0.8 : 0.5, step = spread * places.room / static_cast<double>(chart.series.size());
  const double shift = (static_cast<double>(index) + 0.5) * step - spread * places.room / 2;
  const std::string data = script.begin_data();
  for (std::size_t i = 0; i < places.x.size(); ++i)
    if (std::isfinite(s.values[i])) script.row(places.x[i] + shift, s.values[i], s.low[i], s.high[i]);
  script.end_data();
  if (bars) {
    script.item("{} using 1:2:({}) with boxes {} fs transparent solid 0.55 border title {}", data, datum(0.92 * step),
                series_style(index), gnuplot_text(s.name));
    script.item("{} using 1:3:(0):($4-$3) with vectors heads size graph 0.005,90 lc rgb '#1d2429' lw 1.6 notitle",
                data);
  } else {
    script.item("{} with yerrorbars {} lw 1.8 ps 0.9 title {}", data, series_style(index, "1"), gnuplot_text(s.name));
  }
}

}  // namespace

std::optional<std::string> draw(const interval_chart& chart) {
  const auto places = places_of(chart);
  growing_range x, y;
  for (const double place : places.x) {
    x.include(place - places.room / 2);
    x.include(place + places.room / 2);
  }
  for (const auto& s : chart.series)
    for (const auto& column : {s.values, s.low, s.high}) y.include(column);
  const bool empty = !y.any();
  for (const auto& limit : chart.limits) y.include(limit.at);
  if (chart.style == interval_style::bars) y.include(0);

  plot_script script(chart.size);
  script.frame(chart.x_label, chart.y_label, roomy(x.value(), 0), roomy(y.value(), 0.05));
  for (std::size_t i = 0; i < chart.groups.size(); ++i)
    script.line("set xtics {} ({} {})", i ? "add" : "", gnuplot_text(chart.groups[i]), i);
  if (empty) script.say_empty();
  for (std::size_t i = 0; i < chart.series.size(); ++i) plot_intervals(script, chart, i, places);
  if (chart.style == interval_style::bars) script.item("0 with lines lc rgb '#444444' notitle");
  script.limits(chart.limits);
  script.plot();
  return run_gnuplot(script.text());
}

}  // namespace report

// SPDX-License-Identifier: MIT
#include "common/report/histogram.hpp"

#include <algorithm>
#include <cmath>

namespace report {

std::vector<double> shares_pct(std::span<const double> values, range over, std::size_t bins) {
  std::vector<double> shares(bins, 0.0);
  double counted = 0;
  for (const double value : values) {
    if (!std::isfinite(value)) continue;
    ++shares[detail::strip(value, over, bins)];
    ++counted;
  }
  for (double& share : shares) share *= counted > 0 ? 100 / counted : 0;
  return shares;
}

std::optional<std::string> draw(const histogram& chart) {
  detail::growing_range all;
  for (const auto& s : chart.samples) all.include(s.values);
  const range x = chart.x_range.value_or(detail::roomy(all.value(), 0));
  const bool beyond = all.any() && (all.value().low < x.low || all.value().high > x.high);

  std::vector<std::vector<double>> shares;
  double highest = 0;
  for (const auto& s : chart.samples) {
    shares.push_back(shares_pct(s.values, x, chart.bins));
    for (const double share : shares.back()) highest = std::max(highest, share);
  }

  detail::plot_script script(chart.size);
  script.frame(chart.x_label + (beyond ? " (the end bars hold what lies beyond)" : ""), "share of samples in %", x,
               {0, highest > 0 ? 1.05 * highest : 1});
  if (!all.any()) script.say_empty();
  for (std::size_t i = 0; i < shares.size(); ++i) {
    const std::string data = script.begin_data();
    script.row(x.low, 0.0);
    for (std::size_t bin = 0; bin < chart.bins; ++bin)
      script.row(std::lerp(x.low, x.high, static_cast<double>(bin) / static_cast<double>(chart.bins)), shares[i][bin]);
    script.row(x.high, shares[i].back());
    script.row(x.high, 0.0);
    script.end_data();
    script.item("{} with fillsteps {} fs transparent solid 0.22 noborder notitle", data, detail::series_style(i));
    script.item("{} with steps {} lw 2 title {}", data, detail::series_style(i),
                detail::gnuplot_text(chart.samples[i].name));
  }
  script.plot();
  return run_gnuplot(script.text());
}

}  // namespace report

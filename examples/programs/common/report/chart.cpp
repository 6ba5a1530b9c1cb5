// SPDX-License-Identifier: MIT
#include "common/report/chart.hpp"

namespace report {
namespace detail {

std::string series_style(std::size_t i, std::string_view dash) {
  return fmt::format("lc rgb '{}' dt {} pt {}", series_colours[i % series_colours.size()], dash,
                     series_points[i % series_points.size()]);
}

std::string series_style(std::size_t i) {
  return series_style(i, series_dashes[i % series_dashes.size()]);
}

std::string gnuplot_text(std::string_view text) {
  std::string result = "'";
  for (const char c : text) {
    const bool control = static_cast<unsigned char>(c) < 0x20 || c == 0x7f;
    result += c == '\'' ? "\u2019" : std::string(1, control ? ' ' : c);
  }
  return result + "'";
}

std::string datum(double value) {
  return std::isfinite(value) ? fmt::format("{:.9g}", value) : "NaN";
}

range roomy(range r, double margin) {
  const double width = r.high - r.low;
  if (!(width > 0)) {
    const double around = r.low == 0 ? 1 : 0.05 * std::abs(r.low);
    return {r.low - around, r.high + around};
  }
  return {r.low - margin * width, r.high + margin * width};
}

}  // namespace detail

}  // namespace report

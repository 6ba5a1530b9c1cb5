// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <cstddef>
#include <optional>
#include <vector>

namespace start_session {

/// Flow and dead time of the injectors as the controller has them, by the straight line of asked fuel over pulse.
struct injector_guess {
  double flow_mg_ms = 0, dead_time_ms = 0;
  double scatter = 0;  ///< rms of what is left, relative to the mean of the asked fuel
};

namespace detail {

/// A straight line y = level + slope * x through the points that count, and the rms of what it leaves.
struct straight_line {
  double slope = 0, level = 0, rms = 0, mean = 0;
  std::size_t points = 0;

  [[nodiscard]] double left(double x, double y) const { return y - level - slope * x; }
};

/// @param before  the line from which a point that counts lies no further than two rms; its rms 0: all count.
[[nodiscard]] inline straight_line line_through(const std::vector<double>& y, const std::vector<double>& x,
                                                const straight_line& before) {
  const auto counts = [&](std::size_t i) {
    return x[i] > 0.2 && std::isfinite(y[i]) &&
           (before.rms == 0 || std::abs(before.left(x[i], y[i])) <= 2 * before.rms);
  };
  double n = 0, sx = 0, sy = 0, sxx = 0, sxy = 0, squares = 0;
  for (std::size_t i = 0; i < y.size(); ++i) {
    if (!counts(i)) continue;
    ++n;
    sx += x[i];
    sy += y[i];
    sxx += x[i] * x[i];
    sxy += x[i] * y[i];
  }
  straight_line result{.slope = (n * sxy - sx * sy) / (n * sxx - sx * sx), .points = static_cast<std::size_t>(n)};
  result.level = (sy - result.slope * sx) / n;
  result.mean = sy / n;
  for (std::size_t i = 0; i < y.size(); ++i)
    if (counts(i)) squares += result.left(x[i], y[i]) * result.left(x[i], y[i]);
  result.rms = std::sqrt(squares / n);
  return result;
}

}  // namespace detail

/// Fits a straight line to asked fuel over pulse for one bank by least squares, repeatedly, each time without the points
/// far from the line before, such as those of transient enrichment. Nothing when slope and dead time are not those of an
/// injector.
///
/// @param asked_mg  per cylinder and cycle; NaN: does not count.
/// Source: mass = flow * (pulse - dead time), SAE J1832; points beyond two rms are left out (common practice, no source).
[[nodiscard]] inline std::optional<injector_guess> guess_injector(const std::vector<double>& asked_mg,
                                                                  const std::vector<double>& pulse_ms) {
  detail::straight_line line = detail::line_through(asked_mg, pulse_ms, {});
  const std::size_t all = line.points;
  for (int round = 0; round < 12 && line.points >= 50 && 2 * line.points > all; ++round)
    line = detail::line_through(asked_mg, pulse_ms, line);
  if (line.points < 50) return std::nullopt;
  const double dead_ms = -line.level / line.slope;
  if (!(line.slope > 0.3 && line.slope < 60 && dead_ms > -0.3 && dead_ms < 4)) return std::nullopt;
  return injector_guess{line.slope, dead_ms > 0 ? dead_ms : 0, line.rms / line.mean};
}

}  // namespace start_session

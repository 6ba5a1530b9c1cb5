// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <string_view>
#include <vector>

#include "fettle/lambda/exhaust_path.hpp"
#include "fettle/lambda/recording.hpp"
#include "fettle/map/dynamic_table.hpp"

namespace fettle {

/// Why a sensor's reading does not count; `none`: it counts.
enum class rejection : std::uint8_t {
  none,
  not_sampled,
  sensor_at_its_end,
  before_the_log,
  missing_input,
  fuel_cut,
  after_fuel_cut,
  unburnt,
  warm_up,
  outside_the_map,
  transient,
  implausible,
  stuck,
  stood_at_lean_end  ///< for long: a mixture that is very lean, or a sensor that is unplugged
};
inline constexpr std::size_t rejection_kinds = 14;

[[nodiscard]] constexpr std::string_view describe(rejection why) noexcept {
  constexpr std::array<std::string_view, rejection_kinds> words{"counts",
                                                                "not sampled",
                                                                "sensor at its end of range",
                                                                "gas from before the log began",
                                                                "an input is missing",
                                                                "fuel cut",
                                                                "just after a fuel cut",
                                                                "misfire or ignition cut",
                                                                "engine not warm",
                                                                "outside the map",
                                                                "fast throttle change",
                                                                "implausible reading",
                                                                "reading stuck",
                                                                "stood at the lean end"};
  return words[static_cast<std::size_t>(why)];
}

/// Limits of what counts.
struct screening {
  double coldest_degc = 60;           ///< below: the engine is not warm
  double after_cut_s = 0;             ///< a reading counts again this long after a cut
  double after_unburnt_s = 0.3;       ///< oxygen of unburnt charges reads as lean, and takes this long to pass
  double fastest_throttle_pct_s = 0;  ///< above: transient; 0: transients count
  double after_transient_s = 0;       ///< and for this long after it
  double lowest_lambda = 0.5;         ///< readings outside are implausible whatever the sensor's range
  double highest_lambda = 2.5;
};

namespace detail {

/// What is wrong with each row as a moment of injection.
[[nodiscard]] inline std::vector<rejection> screen_rows(const recording& log,
                                                        const std::vector<dynamic_axis<double>>& axes,
                                                        const screening& limits) {
  std::vector<rejection> result(log.rows(), rejection::none);
  double last_cut_s = -1e300, last_unburnt_s = -1e300, last_transient_s = -1e300;
  for (std::size_t i = 0; i < log.rows(); ++i) {
    double fuel = 0;
    bool whole = std::isfinite(log.speed_rpm[i]) && std::isfinite(log.need_mg[i]) && log.need_mg[i] > 0 &&
                 log.speed_rpm[i] >= 0 && log.target_lambda[i] > 0;
    for (const auto& bank : log.fuel_mg) fuel += bank[i];
    whole = whole && std::isfinite(fuel);
    bool inside = true;
    for (std::size_t a = 0; a < axes.size(); ++a) {
      const double x = log.at[a][i];
      whole = whole && std::isfinite(x);
      inside = inside && x >= axes[a].points().front() && x <= axes[a].points().back();
    }
    const bool cut = fuel <= 0 || (!log.fuel_cut.empty() && std::abs(log.fuel_cut[i]) > 0);  // NaN: not sampled yet
    if (cut) last_cut_s = log.time_s[i];
    if (!log.unburnt.empty() && std::abs(log.unburnt[i]) > 0) last_unburnt_s = log.time_s[i];
    if (limits.fastest_throttle_pct_s > 0 && !log.throttle_pct.empty() && i > 0) {
      const double rate = (log.throttle_pct[i] - log.throttle_pct[i - 1]) / (log.time_s[i] - log.time_s[i - 1]);
      if (std::abs(rate) > limits.fastest_throttle_pct_s) last_transient_s = log.time_s[i];
    }
    if (!whole)
      result[i] = rejection::missing_input;
    else if (cut)
      result[i] = rejection::fuel_cut;
    else if (log.time_s[i] < last_cut_s + limits.after_cut_s)
      result[i] = rejection::after_fuel_cut;
    else if (log.time_s[i] <= last_unburnt_s + limits.after_unburnt_s)
      result[i] = rejection::unburnt;
    else if (!log.coolant_degc.empty() && !(log.coolant_degc[i] >= limits.coldest_degc))
      result[i] = rejection::warm_up;
    else if (!inside)
      result[i] = rejection::outside_the_map;
    else if (log.time_s[i] <= last_transient_s + limits.after_transient_s)
      result[i] = rejection::transient;
  }
  return result;
}

/// The range inside which a sensor measures: its own ends, or nearer ones at which this log shows it clipped.
struct sensor_range {
  double lowest, highest;
};

/// A reading far from stoichiometric that comes again and again to the last digit, with nothing beyond it, is an end.
[[nodiscard]] inline sensor_range measuring_range(const sensor_trace& sensor) {
  constexpr double surely_rich = 0.75, surely_lean = 1.15, often = 0.002;
  double lowest = 1, highest = 1, at_lowest = 0, at_highest = 0, sampled = 0;
  for (const double lambda : sensor.lambda) {
    if (std::isnan(lambda)) continue;
    ++sampled;
    if (lambda < lowest) lowest = lambda, at_lowest = 0;
    if (lambda > highest) highest = lambda, at_highest = 0;
    at_lowest += lambda == lowest;
    at_highest += lambda == highest;
  }
  const double enough = (std::max)(20.0, often * sampled);
  return {lowest < surely_rich && at_lowest >= enough ? (std::max)(lowest, sensor.lowest) : sensor.lowest,
          highest > surely_lean && at_highest >= enough ? (std::min)(highest, sensor.highest) : sensor.highest};
}

/// Rows at which a reading has stood still to the last digit for seconds while the fuel changed under it.
///
/// A quiet sensor logged to 0.01 can do so on a steady target: log it to 0.001. At an end of its range a reading stands
/// still by itself; there it counts only after half a minute in which the fuel has doubled or halved.
[[nodiscard]] inline std::vector<bool> stuck_rows(const recording& log, const sensor_trace& sensor,
                                                  const sensor_range& range) {
  constexpr double longest_s = 3, fuel_ratio = 1.3, longest_at_end_s = 30, fuel_ratio_at_end = 2;
  std::vector<bool> result(log.rows(), false);
  std::size_t begin = 0;
  double least = 0, most = 0, value = std::nan("");
  const auto close = [&](std::size_t end) {
    const bool is_at_end = value <= range.lowest || value >= range.highest;
    if (end > begin && log.time_s[end - 1] - log.time_s[begin] >= (is_at_end ? longest_at_end_s : longest_s) &&
        least > 0 && most > (is_at_end ? fuel_ratio_at_end : fuel_ratio) * least)
      for (std::size_t i = begin; i < end; ++i) result[i] = true;
  };
  for (std::size_t i = 0; i < log.rows(); ++i) {
    double fuel = 0;
    for (const auto& bank : log.fuel_mg) fuel += bank[i];
    if (!std::isnan(sensor.lambda[i]) && sensor.lambda[i] != value) {
      close(i);
      begin = i;
      value = sensor.lambda[i];
      least = most = fuel;
    }
    if (fuel > 0) {
      least = least > 0 ? (std::min)(least, fuel) : fuel;
      most = (std::max)(most, fuel);
    }
  }
  close(log.rows());
  return result;
}

/// How long, in seconds, a sensor stood at its lean end while the fuel changed: see `stuck_rows`.
[[nodiscard]] inline double stood_at_lean_end_s(const recording& log, const sensor_trace& sensor) {
  const sensor_range range = measuring_range(sensor);
  const std::vector<bool> stuck = stuck_rows(log, sensor, range);
  double result = 0;
  for (std::size_t i = 1; i < log.rows(); ++i)
    if (stuck[i] && stuck[i - 1] && sensor.lambda[i] >= range.highest) result += log.time_s[i] - log.time_s[i - 1];
  return result;
}

/// What is wrong with a sensor's reading at each row, given when its gas was injected.
[[nodiscard]] inline std::vector<rejection> screen_sensor(const recording& log, const sensor_trace& sensor,
                                                          const std::vector<rejection>& rows,
                                                          const std::vector<moment>& injected,
                                                          const screening& limits) {
  std::vector<rejection> result(log.rows(), rejection::none);
  const sensor_range range = measuring_range(sensor);
  const std::vector<bool> stuck = stuck_rows(log, sensor, range);
  for (std::size_t i = 0; i < log.rows(); ++i) {
    const double lambda = sensor.lambda[i];
    const moment from = injected[i];
    if (std::isnan(lambda))
      result[i] = rejection::not_sampled;
    else if (stuck[i])
      result[i] = lambda >= range.highest ? rejection::stood_at_lean_end : rejection::stuck;
    else if (lambda <= range.lowest || lambda >= range.highest)
      result[i] = rejection::sensor_at_its_end;
    else if (!(lambda > limits.lowest_lambda && lambda < limits.highest_lambda))
      result[i] = rejection::implausible;
    else if (!(from.fraction >= 0))  // without speed or fuel no gas can be followed: not the log's beginning
      result[i] = rows[i] == rejection::missing_input ? rejection::missing_input : rejection::before_the_log;
    else if (rows[from.row] != rejection::none)
      result[i] = rows[from.row];
    else if (from.fraction > 0)
      result[i] = rows[from.row + 1];
  }
  return result;
}

}  // namespace detail

/// Readings counted by why they do not count; entry `none` counts those that do.
struct rejection_counts {
  std::array<std::size_t, rejection_kinds> count{};

  void add(rejection why) noexcept { ++count[static_cast<std::size_t>(why)]; }
  [[nodiscard]] std::size_t operator[](rejection why) const noexcept { return count[static_cast<std::size_t>(why)]; }
};

}  // namespace fettle

// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <vector>

namespace fettle {

/// The way from injection to a sensor's reading: crank revolutions to the exhaust valve, gas to push out of the pipe,
/// the sensor's own latency (a CAN sensor is late), then its first-order lag.
struct exhaust_path {
  double revolutions = 0;
  double pipe_gas_mass_g = 0;
  double latency_s = 0;
  double lag_s = 0;
};

/// Delay of a steady engine: revolutions / (rpm/60) + gas mass / flow + latency.
[[nodiscard]] inline double steady_delay_s(const exhaust_path& path, double speed_rpm, double flow_g_s) noexcept {
  return path.revolutions * 60 / speed_rpm + path.pipe_gas_mass_g / flow_g_s + path.latency_s;
}

/// One step of a first-order lag driven by straight lines between samples: exact for such an input.
///
/// y' = keep * y + now * u' + before * u. The three weights are positive and sum to 1.
struct lag_step {
  double keep = 0, now = 1, before = 0;

  [[nodiscard]] static lag_step over(double step_s, double lag_s) noexcept {
    if (!(lag_s > 0)) return {};
    const double ratio = step_s / lag_s;
    const double keep = std::exp(-ratio), share = ratio > 1e-8 ? -std::expm1(-ratio) / ratio : 1.0;
    return {keep, 1 - share, share - keep};
  }

  /// The output after a step on which the input goes straight from one value to another.
  [[nodiscard]] double advance(double output, double input_before, double input_now) const noexcept {
    return keep * output + before * input_before + now * input_now;
  }
};

/// The moment between two rows of a log.
struct moment {
  std::size_t row = 0;  ///< the earlier row
  double fraction = 0;  ///< of the way to the next row; NaN: before the log began
};

/// When the gas that a sensor reads at each row was injected, by counting revolutions and gas from row to row.
///
/// Counting is exact when speed and flow change on the way; at steady speed it equals `steady_delay_s`. What leaves the
/// valve at a moment was made some revolutions before, so the gas that fills the pipe is counted as it was made.
class transport {
 public:
  /// @param speed_rpm  and
  /// @param flow_g_s   exhaust past the sensor, one entry per row, finite, the engine's own.
  transport(const std::vector<double>& time_s, const std::vector<double>& speed_rpm,
            const std::vector<double>& flow_g_s)
      : time_{time_s}, turns_(time_s.size()), gas_(time_s.size()) {
    for (std::size_t i = 1; i < time_s.size(); ++i) {
      const double step = time_s[i] - time_s[i - 1];
      turns_[i] = turns_[i - 1] + (std::max)(step * (speed_rpm[i] + speed_rpm[i - 1]) / 120, creeping * step);
      gas_[i] = gas_[i - 1] + (std::max)(step * (flow_g_s[i] + flow_g_s[i - 1]) / 2, creeping * step);
    }
  }

  /// The moment of injection for a reading at every row.
  [[nodiscard]] std::vector<moment> injected(const exhaust_path& path) const {
    std::vector<moment> result(time_.size());
    std::size_t late = 0, turned = 0, piped = 0;  // each search goes on where it stood: the whole pass is linear
    for (std::size_t i = 0; i < time_.size(); ++i) {
      const moment sampled = find(time_, time_[i] - path.latency_s, late);
      const moment at_valve = find(turns_, value(turns_, sampled) - path.revolutions, turned);
      result[i] = find(gas_, value(gas_, at_valve) - path.pipe_gas_mass_g, piped);
    }
    return result;
  }

 private:
  static constexpr double creeping = 1e-9;  // turns or grams a second of an engine at rest: keeps the counts rising

  [[nodiscard]] static double value(const std::vector<double>& count, moment at) noexcept {
    if (!(at.fraction > 0)) return at.fraction == 0 ? count[at.row] : at.fraction;
    return count[at.row] + at.fraction * (count[at.row + 1] - count[at.row]);
  }

  [[nodiscard]] static moment find(const std::vector<double>& count, double target, std::size_t& hint) noexcept {
    if (!(target >= count.front())) return {0, std::numeric_limits<double>::quiet_NaN()};
    const std::size_t last = count.size() - 1;
    while (hint < last && count[hint + 1] <= target) ++hint;
    while (hint > 0 && count[hint] > target) --hint;
    if (hint == last) return {last, 0};
    return {hint, (target - count[hint]) / (count[hint + 1] - count[hint])};
  }

  const std::vector<double>& time_;
  std::vector<double> turns_, gas_;
};

}  // namespace fettle

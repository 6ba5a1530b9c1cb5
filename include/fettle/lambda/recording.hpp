// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <string>
#include <utility>
#include <vector>

#include "fettle/error.hpp"

namespace fettle {

/// One wide-band sensor's record on the clock of its log.
struct sensor_trace {
  std::string name;
  std::vector<std::size_t> cylinders{};  ///< whose exhaust passes it, 1 ..; empty: that of all
  double flow_share = 1;                 ///< share of the whole exhaust flow that passes it
  double lowest = 0.65;                  ///< at or below: the sensor's lean or rich end, not a measurement
  double highest = 1.6;
  std::vector<double> lambda{};  ///< NaN where it was not sampled
};

/// One log on one clock, in the quantities that tell fuel from lambda. What a program makes of a log file.
///
/// Shape: every series has one entry per row, strictly increasing in time.
/// Unit:  fuel per cylinder and cycle; `need_mg` is what the map under correction asks for at lambda 1, in the
///        conditions of the moment; `fuel_mg` is what each bank was driven to deliver.
struct recording {
  std::string name;
  double cylinders = 1;
  double stoichiometric_afr = 14.6;
  std::vector<double> time_s;
  std::vector<std::vector<double>> at;  ///< one series per axis of the map
  std::vector<double> speed_rpm;
  std::vector<double> need_mg;
  std::vector<std::vector<double>> fuel_mg;  ///< one series per bank
  std::vector<double> target_lambda;
  std::vector<sensor_trace> sensors;
  /// Share of each bank in the fuel by the share map as it is now, one series per bank, their sum 1; empty: as it was.
  std::vector<std::vector<double>> bank_share{};
  std::vector<double> throttle_pct{};  ///< empty: not known
  std::vector<double> coolant_degc{};  ///< empty: not known
  std::vector<double> fuel_cut{};      ///< non-zero: cut; empty, NaN: judged by `fuel_mg` alone
  std::vector<double> unburnt{};       ///< non-zero: charges left unburnt, by misfire or ignition cut; empty: not known

  [[nodiscard]] std::size_t rows() const noexcept { return time_s.size(); }

  /// Rows begin .. end-1 as a log of their own.
  [[nodiscard]] recording part(std::size_t begin, std::size_t end) const {
    const auto cut = [&](const std::vector<double>& series) {
      if (series.empty()) return series;
      const auto from = series.begin() + static_cast<std::ptrdiff_t>(begin);
      return std::vector<double>(from, from + static_cast<std::ptrdiff_t>(end - begin));
    };
    recording result{.name = name,
                     .cylinders = cylinders,
                     .stoichiometric_afr = stoichiometric_afr,
                     .time_s = cut(time_s),
                     .at = {},
                     .speed_rpm = cut(speed_rpm),
                     .need_mg = cut(need_mg),
                     .fuel_mg = {},
                     .target_lambda = cut(target_lambda),
                     .sensors = {},
                     .bank_share = {},
                     .throttle_pct = cut(throttle_pct),
                     .coolant_degc = cut(coolant_degc),
                     .fuel_cut = cut(fuel_cut),
                     .unburnt = cut(unburnt)};
    for (const auto& series : at) result.at.push_back(cut(series));
    for (const auto& series : fuel_mg) result.fuel_mg.push_back(cut(series));
    for (const auto& series : bank_share) result.bank_share.push_back(cut(series));
    for (const auto& sensor : sensors)
      result.sensors.push_back({.name = sensor.name,
                                .cylinders = sensor.cylinders,
                                .flow_share = sensor.flow_share,
                                .lowest = sensor.lowest,
                                .highest = sensor.highest,
                                .lambda = cut(sensor.lambda)});
    return result;
  }

  /// Errors: `fettle::error` naming the series that has another length than the time, or the row whose time does not
  /// rise.
  void check() const {
    const auto must_fit = [&](const std::vector<double>& series, const std::string& what, bool optional = false) {
      if (series.size() != rows() && !(optional && series.empty()))
        throw error("recording " + name + ": " + what + " has " + std::to_string(series.size()) +
                    " entries, the time has " + std::to_string(rows()));
    };
    for (const auto& series : at) must_fit(series, "a map coordinate");
    for (const auto& series : fuel_mg) must_fit(series, "the fuel of a bank");
    for (const auto& series : bank_share) must_fit(series, "the share of a bank");
    if (!bank_share.empty() && bank_share.size() != fuel_mg.size())
      throw error("recording " + name + ": there are shares of " + std::to_string(bank_share.size()) +
                  " banks and fuel of " + std::to_string(fuel_mg.size()));
    for (const auto& sensor : sensors) must_fit(sensor.lambda, "sensor " + sensor.name);
    must_fit(speed_rpm, "the speed");
    must_fit(need_mg, "the fuel need");
    must_fit(target_lambda, "the target lambda");
    must_fit(throttle_pct, "the throttle", true);
    must_fit(coolant_degc, "the coolant temperature", true);
    must_fit(fuel_cut, "the fuel cut", true);
    must_fit(unburnt, "the unburnt charges", true);
    for (std::size_t i = 0; i < rows(); ++i)
      if (!std::isfinite(time_s[i]) || (i > 0 && !(time_s[i - 1] < time_s[i])))
        throw error("recording " + name + ": the time of row " + std::to_string(i) + " does not rise");
  }
};

/// A log cut where its clock jumps: what the gas did meanwhile is not known.
///
/// @param longest_s  steps of time longer than this are gaps.
[[nodiscard]] inline std::vector<recording> split_at_gaps(recording log, double longest_s = 0.5) {
  std::vector<recording> result;
  std::size_t begin = 0;
  for (std::size_t i = 1; i <= log.rows(); ++i) {
    if (i < log.rows() && !(log.time_s[i] - log.time_s[i - 1] > longest_s)) continue;
    result.push_back(begin == 0 && i == log.rows() ? std::move(log) : log.part(begin, i));
    begin = i;
  }
  return result;
}

namespace detail {

/// Stretches of ten seconds, evenly spread over a log, about as many rows as asked for; at least one.
[[nodiscard]] inline std::vector<recording> stretches(const recording& log, double share) {
  constexpr double stretch_s = 10;
  std::vector<recording> result;
  if (log.rows() == 0) return result;
  const auto row_at = [&](double time_s) {
    return static_cast<std::size_t>(std::lower_bound(log.time_s.begin(), log.time_s.end(), time_s) -
                                    log.time_s.begin());
  };
  for (double start_s = log.time_s.front(); start_s <= log.time_s.back(); start_s += stretch_s / share)
    result.push_back(log.part(row_at(start_s), row_at(start_s + stretch_s)));
  return result;
}

}  // namespace detail
}  // namespace fettle

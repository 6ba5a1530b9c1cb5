// SPDX-License-Identifier: MIT
#pragma once

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <filesystem>
#include <numeric>
#include <string>
#include <utility>
#include <vector>

#include "compare_pulls/settings.hpp"
#include "fettle/error.hpp"
#include "fettle/fuel/power_correction.hpp"
#include "fettle/io/log_csv.hpp"

namespace compare_pulls {

/// One full-throttle pull, row by row.
struct pull {
  std::string file;
  std::size_t state = 0;  ///< 0 before, 1 after
  std::size_t set = 0;
  std::size_t gear = 0;  ///< from 1; 0: none
  direction way = direction::unknown;
  bool is_free = false;
  std::vector<double> time_s{}, rpm{}, speed_mps{}, rise{},
      torque_nm{};        ///< speed of the road; rise and torque where there
  double air_factor = 1;  ///< brings torque to standard air
  double coolant_degc = std::nan("");
};

/// A free run of the car out of gear.
struct coast_down {
  std::string file;
  direction way = direction::unknown;
  std::vector<double> time_s{}, speed_mps{}, rise{};
};

namespace detail {

[[nodiscard]] inline double mean(const std::vector<double>& x) {
  return std::accumulate(x.begin(), x.end(), 0.0) / static_cast<double>(x.size());
}
[[nodiscard]] inline double median(std::vector<double> x) {
  const auto middle = x.begin() + static_cast<std::ptrdiff_t>(x.size() / 2);
  std::nth_element(x.begin(), middle, x.end());
  return *middle;
}

[[nodiscard]] inline fettle::log_table read_columns(const settings& from, const std::filesystem::path& path,
                                                    const std::vector<std::pair<const char*, bool>>& wanted) {
  std::vector<fettle::log_channel> channels;
  for (const auto& [name, required] : wanted) {
    fettle::log_channel channel{.name = name, .file_name = name};
    for (const auto& named : from.columns)
      if (named.name == name) channel = named;
    channel.required = required;
    channels.push_back(channel);
  }
  return fettle::read_log_csv(path, channels);
}

/// Gaps of a column filled in a straight line; ends held. Columns sampled more slowly than rows are usual.
inline void fill_gaps(std::vector<double>& x, const std::vector<double>& time_s) {
  std::size_t last = x.size();
  for (std::size_t i = 0; i < x.size(); ++i) {
    if (std::isnan(x[i])) continue;
    for (std::size_t k = last == x.size() ? 0 : last + 1; k < i; ++k)
      x[k] = last == x.size() ? x[i]
                              : x[last] + (x[i] - x[last]) * (time_s[k] - time_s[last]) / (time_s[i] - time_s[last]);
    last = i;
  }
  for (std::size_t k = last + 1; last < x.size() && k < x.size(); ++k) x[k] = x[last];
}

/// Pressure of water vapour in saturated air.
/// Source: O. A. Alduchov, R. E. Eskridge, J. Appl. Meteorol. 35 (1996) 601-609 (from memory).
[[nodiscard]] inline double saturation_kpa(double degc) {
  return 0.61094 * std::exp(17.625 * degc / (degc + 243.04));
}

[[nodiscard]] inline double air_factor(const settings& asked, const fettle::log_table& log, const std::string& file) {
  const auto *kpa = log.find("air_kPa"), *degc = log.find("air_degC"), *humidity = log.find("humidity_pct");
  const auto is_there = [](const std::vector<double>* x) {
    return x != nullptr && std::any_of(x->begin(), x->end(), [](double v) { return !std::isnan(v); });
  };
  if (asked.rule == air_rule::none || !is_there(kpa) || !is_there(degc)) return 1;
  const auto mean_of = [](std::vector<double> x) {
    std::erase_if(x, [](double v) { return std::isnan(v); });
    return mean(x);
  };
  const double warm = mean_of(*degc);
  const double vapour = is_there(humidity) ? mean_of(*humidity) / 100 * saturation_kpa(warm) : 0;
  const fettle::test_air<double> air{mean_of(*kpa) - vapour, warm};
  const double factor = asked.rule == air_rule::iso_1585 ? fettle::iso_1585_factor(air) : fettle::sae_j1349_factor(air);
  if (!(factor > 0.8 && factor < 1.3))
    throw fettle::error(
        fmt::format("{}: air of {:g} kPa and {:g} degC gives a correction of {:g}; expected kPa absolute "
                    "and degrees Celsius, give air_kPa a factor in /columns if it is in another unit",
                    file, air.dry_pressure_kpa, warm, factor));
  return factor;
}

/// Rows first .. last of the longest stretch at full throttle, from its slowest to its fastest engine speed.
[[nodiscard]] inline std::pair<std::size_t, std::size_t> full_throttle_rows(const settings& asked,
                                                                            const fettle::log_table& log) {
  const auto* throttle = log.find("throttle_pct");
  const bool has_throttle =
      throttle != nullptr && std::any_of(throttle->begin(), throttle->end(), [](double v) { return !std::isnan(v); });
  const auto& rpm = *log.find("rpm");
  std::size_t first = 0, last = rpm.size() - 1;
  if (has_throttle) {
    auto open = *throttle;
    fill_gaps(open, *log.find("time_s"));
    std::size_t begin = 0, best = 0;
    for (std::size_t i = 0; i <= open.size(); ++i) {
      if (i < open.size() && open[i] >= asked.full_throttle_pct) continue;
      if (i - begin > best) {
        best = i - begin;
        first = begin;
        last = i - 1;
      }
      begin = i + 1;
    }
    if (best == 0) return {0, 0};
  }
  const auto at = [&](std::size_t i) { return rpm.begin() + static_cast<std::ptrdiff_t>(i); };
  const std::size_t fastest = static_cast<std::size_t>(std::max_element(at(first), at(last + 1)) - rpm.begin());
  const std::size_t slowest = static_cast<std::size_t>(std::min_element(at(first), at(fastest + 1)) - rpm.begin());
  return {slowest, fastest};
}

inline void require_enough(const pull& p, double least_rpm) {
  const std::size_t rows = p.time_s.size();
  const double range = rows > 0 ? p.rpm.back() - p.rpm.front() : 0;
  if (rows < 20 || range < least_rpm)
    throw fettle::error(
        fmt::format("{}: {} rows at full throttle over {:.0f} rpm, expected 20 rows or more over {:.0f} "
                    "rpm; drive a longer pull or log faster",
                    p.file, rows, range, least_rpm));
}

/// The log must have been driven in the gear it is said to be, without losing grip.
inline void require_one_gear(const settings& asked, const pull& p) {
  constexpr double grip = 0.10;
  std::vector<std::size_t> in_gear(asked.gears.size() + 1);
  std::vector<double> slips;
  std::size_t lost = 0, first_lost = 0;
  for (std::size_t i = 0; i < p.rpm.size(); ++i) {
    if (!(p.speed_mps[i] > 1)) continue;
    std::size_t nearest = 0;
    double least = 1e9;
    for (std::size_t g = 0; g < asked.gears.size(); ++g) {
      const double off = std::abs(std::log(1 + fettle::tyre_slip(asked.gears[g], p.rpm[i], p.speed_mps[i])));
      if (off < least) {
        least = off;
        nearest = g + 1;
      }
    }
    ++in_gear[nearest];
    const double slip = fettle::tyre_slip(asked.gears[p.gear - 1], p.rpm[i], p.speed_mps[i]);
    slips.push_back(slip);
    if (std::abs(slip) > grip && lost++ == 0) first_lost = i;
  }
  for (std::size_t g = 1; g < in_gear.size(); ++g) {
    const double part = static_cast<double>(in_gear[g]) / static_cast<double>(p.rpm.size());
    if (g == p.gear || part < 0.2) continue;
    if (part > 0.8)
      throw fettle::error(
          fmt::format("{}: speed and rpm are those of gear {}, but the session says gear {}; correct the "
                      "gear, or check ratios and wheel radius",
                      p.file, g, p.gear));
    throw fettle::error(
        fmt::format("{}: {:.0f} % of its rows are in gear {}, not in gear {}; expected one gear per "
                    "pull, cut the log at the shift",
                    p.file, 100 * part, g, p.gear));
  }
  if (lost * 20 > p.rpm.size())
    throw fettle::error(
        fmt::format("{}: the driven wheels turn {:.0f} % faster than the road from {:.2f} s on; expected "
                    "grip within {:.0f} %: use a higher gear, or check wheel radius and speed_kmh",
                    p.file, 100 * *std::max_element(slips.begin(), slips.end()), p.time_s[first_lost], 100 * grip));
}

[[nodiscard]] inline std::vector<double> scaled(std::vector<double> x, double factor) {
  for (double& value : x) value *= factor;
  return x;
}

}  // namespace detail

/// Reads one pull: the full-throttle part of its log.
///
/// Errors: `fettle::error` naming the file for what cannot be read, too few rows, more than one gear, or lost grip.
[[nodiscard]] inline pull read_pull(const settings& asked, const pull_file& of, std::size_t state) {
  const bool is_road = asked.by == method::road && !of.is_free;
  const auto log = detail::read_columns(asked, of.path,
                                        {{"time_s", true},
                                         {"rpm", true},
                                         {"torque_nm", asked.by == method::dyno && !of.is_free},
                                         {"speed_kmh", false},
                                         {"throttle_pct", false},
                                         {"grade_pct", false},
                                         {"air_kPa", false},
                                         {"air_degC", false},
                                         {"humidity_pct", false},
                                         {"coolant_degC", false}});
  pull result{
      .file = of.path.string(), .state = state, .set = of.set, .gear = of.gear, .way = of.way, .is_free = of.is_free};
  result.air_factor = detail::air_factor(asked, log, result.file);
  const auto [first, last] = detail::full_throttle_rows(asked, log);
  const auto take = [&, first = first, last = last](const char* name, double factor) {
    const auto* column = log.find(name);
    std::vector<double> x = column != nullptr ? *column : std::vector<double>(log.rows(), std::nan(""));
    detail::fill_gaps(x, *log.find("time_s"));
    return detail::scaled(
        {x.begin() + static_cast<std::ptrdiff_t>(first), x.begin() + static_cast<std::ptrdiff_t>(last) + 1}, factor);
  };
  result.time_s = take("time_s", 1);
  result.rpm = take("rpm", 1);
  detail::require_enough(result, of.is_free ? 500 : 800);
  if (std::any_of(result.rpm.begin(), result.rpm.end(), [](double x) { return !(x > 0); }))
    throw fettle::error(result.file +
                        ": rpm is empty or not above 0 during the pull, expected an engine speed in every row");
  if (asked.by == method::dyno && !of.is_free) result.torque_nm = take("torque_nm", 1);
  result.coolant_degc = take("coolant_degC", 1)[0];
  if (!is_road) return result;
  const auto& gear = asked.gears[of.gear - 1];
  const auto* speed = log.find("speed_kmh");
  if (speed != nullptr && std::any_of(speed->begin(), speed->end(), [](double v) { return !std::isnan(v); })) {
    result.speed_mps = take("speed_kmh", 1 / 3.6);
    detail::require_one_gear(asked, result);
  } else {
    for (const double rpm : result.rpm) result.speed_mps.push_back(fettle::road_speed_mps(gear, rpm));
  }
  result.rise = take("grade_pct", 0.01);
  for (double& x : result.rise) x = std::isnan(x) ? 0 : x / std::sqrt(1 + x * x);
  return result;
}

/// Reads one coast-down: its rows in falling speed.
///
/// Errors: `fettle::error` naming the file when it is too short to tell rolling from air drag.
[[nodiscard]] inline coast_down read_coast_down(const settings& asked, const coast_file& of) {
  const auto log = detail::read_columns(asked, of.path, {{"time_s", true}, {"speed_kmh", true}, {"grade_pct", false}});
  coast_down result{.file = of.path.string(), .way = of.way, .time_s = *log.find("time_s")};
  auto speed = *log.find("speed_kmh");
  auto grade = log.find("grade_pct") != nullptr ? *log.find("grade_pct") : std::vector<double>(speed.size());
  detail::fill_gaps(speed, result.time_s);
  detail::fill_gaps(grade, result.time_s);
  result.speed_mps = detail::scaled(speed, 1 / 3.6);
  result.rise = detail::scaled(grade, 0.01);
  for (double& x : result.rise) x = std::isnan(x) ? 0 : x / std::sqrt(1 + x * x);
  const double fastest = *std::max_element(result.speed_mps.begin(), result.speed_mps.end());
  if (result.time_s.size() < 20 || !(result.speed_mps.back() < 0.7 * fastest) || !(result.speed_mps.back() > 0))
    throw fettle::error(
        fmt::format("{}: coasts from {:.0f} to {:.0f} km/h in {} rows; expected 20 rows or more, out of "
                    "gear, down to 70 % of the highest speed or less, without coming to a stop",
                    result.file, 3.6 * fastest, 3.6 * result.speed_mps.back(), result.time_s.size()));
  return result;
}

}  // namespace compare_pulls

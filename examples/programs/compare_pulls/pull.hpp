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
#include "fettle/io/log_csv.hpp"
#include "fettle/io/text.hpp"

namespace compare_pulls {

/// The air that an engine breathed, means over a log; NaN where it was not logged.
struct pull_air {
  double kpa = std::nan(""), degc = std::nan(""), humidity_pct = std::nan("");
};

/// One full-throttle pull, row by row.
struct pull {
  std::string file;
  std::size_t state = 0;  ///< 0 before, 1 after
  std::size_t set = 0;
  std::size_t gear = 0;  ///< from 1; 0: none
  direction way = direction::unknown;
  bool is_free = false;
  std::vector<double> time_s{}, rpm{}, speed_mps{}, rise{},
      torque_nm{};  ///< speed of the road; rise and torque where there
  pull_air air{};
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

[[nodiscard]] inline fettle::log_table read_columns(const settings& settings, const std::filesystem::path& path,
                                                    const std::vector<std::pair<const char*, bool>>& wanted) {
  std::vector<fettle::log_channel> channels;
  for (const auto& [name, required] : wanted) {
    fettle::log_channel channel{.name = name, .file_name = name};
    for (const auto& named : settings.columns)
      if (named.name == name) channel = named;
    channel.required = required;
    channels.push_back(channel);
  }
  return fettle::read_log_csv(path, channels);
}

/// Whether a log has a column with at least one sample in it.
[[nodiscard]] inline bool has_samples(const std::vector<double>* column) {
  return column != nullptr && std::any_of(column->begin(), column->end(), [](double x) { return !std::isnan(x); });
}

/// Fills the gaps of a column by straight lines and holds its ends: slow channels are not sampled in every row.
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

/// Mean of a column over a log; NaN where it has no sample.
[[nodiscard]] inline double mean_of(const std::vector<double>* column) {
  if (!has_samples(column)) return std::nan("");
  std::vector<double> x = *column;
  std::erase_if(x, [](double v) { return std::isnan(v); });
  return std::accumulate(x.begin(), x.end(), 0.0) / static_cast<double>(x.size());
}

/// Refuses a relative humidity that does not exist.
inline void require_humidity(const fettle::log_table& log, const std::string& file) {
  const auto* humidity = log.find("humidity_pct");
  if (humidity == nullptr) return;
  const auto bad = std::find_if(humidity->begin(), humidity->end(), [](double x) { return x < 0 || x > 100; });
  if (bad == humidity->end()) return;
  throw fettle::error(fmt::format("{}: humidity_pct is {:g} at {:g} s, expected relative humidity from 0 to 100", file,
                                  *bad, (*log.find("time_s"))[static_cast<std::size_t>(bad - humidity->begin())]));
}

/// Rows first .. last of the longest stretch at full throttle, from its slowest to its fastest engine speed.
[[nodiscard]] inline std::pair<std::size_t, std::size_t> full_throttle_rows(const settings& settings,
                                                                            const fettle::log_table& log) {
  const auto* throttle = log.find("throttle_pct");
  auto rpm = *log.find("rpm");
  fill_gaps(rpm, *log.find("time_s"));
  std::size_t first = 0, last = rpm.size() - 1;
  if (has_samples(throttle)) {
    auto open = *throttle;
    fill_gaps(open, *log.find("time_s"));
    std::size_t begin = 0, best = 0;
    for (std::size_t i = 0; i <= open.size(); ++i) {
      if (i < open.size() && open[i] >= settings.full_throttle_pct) continue;
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
    throw fettle::error(fmt::format(
        "{}: full throttle lasts {} rows and {:.0f} rpm; expected at least 20 rows and {:.0f} rpm. Make a longer "
        "pull, or log faster",
        p.file, rows, range, least_rpm));
}

/// The log must have been driven in the gear it is said to be, without losing grip.
inline void require_one_gear(const settings& settings, const pull& p) {
  constexpr double grip = 0.10;
  std::vector<std::size_t> in_gear(settings.gears.size() + 1);
  std::vector<double> slips;
  std::size_t lost = 0, first_lost = 0;
  for (std::size_t i = 0; i < p.rpm.size(); ++i) {
    if (!(p.speed_mps[i] > 1)) continue;
    std::size_t nearest = 0;
    double least = 1e9;
    for (std::size_t g = 0; g < settings.gears.size(); ++g) {
      const double off = std::abs(std::log(1 + fettle::tyre_slip(settings.gears[g], p.rpm[i], p.speed_mps[i])));
      if (off < least) {
        least = off;
        nearest = g + 1;
      }
    }
    ++in_gear[nearest];
    const double slip = fettle::tyre_slip(settings.gears[p.gear - 1], p.rpm[i], p.speed_mps[i]);
    slips.push_back(slip);
    if (std::abs(slip) > grip && lost++ == 0) first_lost = i;
  }
  for (std::size_t g = 1; g < in_gear.size(); ++g) {
    const double part = static_cast<double>(in_gear[g]) / static_cast<double>(p.rpm.size());
    if (g == p.gear || part < 0.2) continue;
    if (part > 0.8)
      throw fettle::error(
          fmt::format("{}: speed and rpm are those of gear {}, but the session says gear {}; correct the "
                      "gear, or check gear_ratios and wheel_radius_m",
                      p.file, g, p.gear));
    throw fettle::error(
        fmt::format("{}: {:.0f} % of its rows are in gear {}, not in gear {}; expected one gear per "
                    "pull. Cut the log at the shift",
                    p.file, 100 * part, g, p.gear));
  }
  if (lost * 20 > p.rpm.size())
    throw fettle::error(fmt::format(
        "{}: the driven wheels turn up to {:.0f} % faster than the road, first at {:.2f} s; expected slip below "
        "{:.0f} %. Use a higher gear, or check wheel_radius_m and speed_kmh",
        p.file, 100 * *std::max_element(slips.begin(), slips.end()), p.time_s[first_lost], 100 * grip));
}

/// Metres of height per metre of road, from a grade in percent of the horizontal distance; 0 where unknown.
[[nodiscard]] inline std::vector<double> rise_of(std::vector<double> grade_pct) {
  for (double& x : grade_pct) x = std::isnan(x) ? 0 : x / std::hypot(100.0, x);
  return grade_pct;
}

}  // namespace detail

/// Reads one pull: the full-throttle part of its log.
///
/// Errors: `fettle::error` naming the file for what cannot be read, too few rows, more than one gear, lost grip, or a
///         humidity outside 0 to 100 %.
[[nodiscard]] inline pull read_pull(const settings& settings, const pull_file& file, std::size_t state) {
  const bool is_dyno = settings.source == torque_source::dyno && !file.is_free;
  const auto log = detail::read_columns(settings, file.path,
                                        {{"time_s", true},
                                         {"rpm", true},
                                         {"torque_nm", is_dyno},
                                         {"speed_kmh", false},
                                         {"throttle_pct", false},
                                         {"grade_pct", false},
                                         {"air_kPa", false},
                                         {"air_degC", false},
                                         {"humidity_pct", false},
                                         {"coolant_degC", false}});
  pull result{.file = fettle::path_text(file.path),
              .state = state,
              .set = file.set,
              .gear = file.gear,
              .way = file.way,
              .is_free = file.is_free};
  detail::require_humidity(log, result.file);
  result.air = {detail::mean_of(log.find("air_kPa")), detail::mean_of(log.find("air_degC")),
                detail::mean_of(log.find("humidity_pct"))};
  const auto [first, last] = detail::full_throttle_rows(settings, log);
  const auto take = [&, from = first, to = last](const char* name) {
    const auto* column = log.find(name);
    std::vector<double> x = column != nullptr ? *column : std::vector<double>(log.rows(), std::nan(""));
    detail::fill_gaps(x, *log.find("time_s"));
    return std::vector<double>{x.begin() + static_cast<std::ptrdiff_t>(from),
                               x.begin() + static_cast<std::ptrdiff_t>(to) + 1};
  };
  result.time_s = take("time_s");
  result.rpm = take("rpm");
  detail::require_enough(result, file.is_free ? 500 : 800);
  if (std::any_of(result.rpm.begin(), result.rpm.end(), [](double x) { return !(x > 0); }))
    throw fettle::error(result.file +
                        ": the engine speed is not above 0 throughout the pull; expected a running engine");
  if (is_dyno) result.torque_nm = take("torque_nm");
  result.coolant_degc = take("coolant_degC")[0];
  if (is_dyno || file.is_free) return result;
  const auto& gear = settings.gears[file.gear - 1];
  if (detail::has_samples(log.find("speed_kmh"))) {
    result.speed_mps = take("speed_kmh");
    for (double& speed : result.speed_mps) speed /= 3.6;
    detail::require_one_gear(settings, result);
  } else {
    for (const double rpm : result.rpm) result.speed_mps.push_back(fettle::road_speed_mps(gear, rpm));
  }
  result.rise = detail::rise_of(take("grade_pct"));
  return result;
}

/// Reads one coast-down: its rows in falling speed.
///
/// Errors: `fettle::error` naming the file when it is too short to separate rolling resistance from air drag.
[[nodiscard]] inline coast_down read_coast_down(const settings& settings, const coast_file& file) {
  const auto log =
      detail::read_columns(settings, file.path, {{"time_s", true}, {"speed_kmh", true}, {"grade_pct", false}});
  coast_down result{.file = fettle::path_text(file.path),
                    .way = file.way,
                    .time_s = *log.find("time_s"),
                    .speed_mps = *log.find("speed_kmh")};
  auto grade = log.find("grade_pct") != nullptr ? *log.find("grade_pct") : std::vector<double>(log.rows());
  detail::fill_gaps(result.speed_mps, result.time_s);
  for (double& speed : result.speed_mps) speed /= 3.6;
  detail::fill_gaps(grade, result.time_s);
  result.rise = detail::rise_of(std::move(grade));
  const double fastest = *std::max_element(result.speed_mps.begin(), result.speed_mps.end());
  if (result.time_s.size() < 20 || !(result.speed_mps.back() < 0.7 * fastest) || !(result.speed_mps.back() > 0))
    throw fettle::error(fmt::format(
        "{}: coasts from {:.0f} to {:.0f} km/h in {} rows; expected at least 20 rows, out of gear, down to 70 % of "
        "the highest speed or less, but not to a stop",
        result.file, 3.6 * fastest, 3.6 * result.speed_mps.back(), result.time_s.size()));
  return result;
}

}  // namespace compare_pulls

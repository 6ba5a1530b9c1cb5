// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <string>
#include <utility>
#include <vector>

#include "fettle/lambda/detail/parameter_slope.hpp"
#include "fettle/lambda/detail/unknowns.hpp"
#include "fettle/lambda/dynamics.hpp"
#include "fettle/lambda/identify_options.hpp"
#include "fettle/lambda/recording.hpp"
#include "fettle/map/dynamic_table.hpp"

namespace fettle::detail {

/// Trim maps where nothing is said of them: coarse along the first two axes of the map.
[[nodiscard]] inline trim_shape coarse_trims(const dynamic_table<double>& base) {
  trim_shape result;
  const std::size_t most[2]{6, 4};
  for (std::size_t a = 0; a < 2 && a < base.rank(); ++a) {
    const auto& fine = base.axes()[a].points();
    const std::size_t count = (std::min)(most[a], fine.size());
    std::vector<double> points;
    for (std::size_t i = 0; i < count; ++i)
      points.push_back(fine[(i * (fine.size() - 1) + (count - 1) / 2) / (count - 1)]);
    result.axes.push_back(*dynamic_axis<double>::from(std::move(points)));
    result.along.push_back(a);
  }
  return result;
}

/// Whether a bank was driven with another share of the fuel than the share map gives it now: without, its flow and the
/// cells cannot be told apart.
[[nodiscard]] inline bool shares_differ(const std::vector<recording>& logs, std::size_t bank) {
  constexpr double least_difference = 0.1, least_s = 20;
  double seconds = 0;
  for (const auto& log : logs)
    for (std::size_t i = 1; !log.bank_share.empty() && i < log.rows(); ++i) {
      double fuel = 0;
      for (const auto& series : log.fuel_mg) fuel += series[i];
      if (std::abs(log.fuel_mg[bank][i] / fuel - log.bank_share[bank][i]) > least_difference)
        seconds += (std::min)(log.time_s[i] - log.time_s[i - 1], 1.0);
    }
  return seconds > least_s;
}

/// The dynamics with the flows of banks held that these logs cannot tell; that of the first belongs to the map's level.
[[nodiscard]] inline dynamics hold_hidden_flows(const std::vector<recording>& logs, dynamics start) {
  for (std::size_t b = 0; b < start.banks.size(); ++b) {
    parameter& flow = start.banks[b].flow;
    if (b == 0 || !shares_differ(logs, b)) flow = parameter::held(flow.name, flow.value);
  }
  return start;
}

/// Everything that is sought in these logs.
[[nodiscard]] inline unknowns make_unknowns(const std::vector<recording>& logs, const dynamic_table<double>& base,
                                            const dynamics& start, const identify_options& options) {
  bool parts = false;
  std::size_t names = 0;
  const std::string* last = nullptr;
  for (const auto& log : logs) {
    if (last == nullptr || *last != log.name) ++names;
    last = &log.name;
    for (const auto& sensor : log.sensors) parts = parts || !sensor.cylinders.empty();
  }
  unknowns all(base.axes(), options.trims.axes, parts ? static_cast<std::size_t>(logs.front().cylinders) : 0,
               options.spreads);
  for (std::size_t l = 0; names > 1 && l < names; ++l)
    all.add({.what = scalar_unknown::kind::log_level, .index = l, .spread = options.spreads.log_level});
  const auto calibrated =
      static_cast<std::size_t>(std::count_if(start.sensors.begin(), start.sensors.end(), [&](const auto& sensor) {
        return is_calibrated(sensor, options.spreads);
      }));
  if (calibrated > 0 && calibrated < start.sensors.size())  // the level hangs on those that are calibrated
    all.add({.what = scalar_unknown::kind::shared_gain, .spread = options.spreads.shared_gain});
  std::size_t place = 0;
  dynamics::for_each(start, [&](const parameter& quantity) {
    const parameter_place part(place, start.banks.size());
    if (quantity.is_free())
      all.add({.what = part.is_gain ? scalar_unknown::kind::gain : scalar_unknown::kind::parameter,
               .index = part.is_gain ? part.sensor : place,
               .prior = std::log(quantity.value),
               .spread = quantity.spread,
               .lowest = std::log(quantity.lowest),
               .highest = std::log(quantity.highest)});
    ++place;
  });
  return all;
}

}  // namespace fettle::detail

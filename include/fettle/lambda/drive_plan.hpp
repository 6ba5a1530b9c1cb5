// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cstddef>
#include <span>
#include <utility>
#include <vector>

#include "fettle/lambda/visits.hpp"
#include "fettle/map/dynamic_table.hpp"

namespace fettle {

/// One stage of a drive: a steady point, or a slow sweep along one axis with the others held.
struct drive_leg {
  std::vector<double> from, to;  ///< one coordinate per axis; equal for a steady point
  double error_before = 0;       ///< largest standard error of the correction on the way
  double error_after = 0;        ///< the same once driven, with the legs ranked before it
  double gain = 0;               ///< share of the usage-weighted variance that it removes
  [[nodiscard]] bool is_sweep() const noexcept { return from != to; }
};

/// A plan from ranked visits: those at adjoining breakpoints of one line of the map become one sweep.
///
/// Legs come in the order of their best visit; a visit that lies on two lines goes with the longer one, with that along
/// the first axis when they are equally long.
///
/// @param visits  of `next_visits` for the same map: each at a crossing of breakpoints.
[[nodiscard]] inline std::vector<drive_leg> drive_plan(const dynamic_table<double>& map,
                                                       std::span<const visit> visits) {
  std::vector<bool> is_taken(visits.size(), false);
  // The visits in a row with one, along an axis: adjoining breakpoints there, the other coordinates equal.
  const auto row_of = [&](std::size_t start, std::size_t axis) {
    const auto points = map.axes()[axis].points();
    const auto index = [&](const visit& stop) {
      return std::lower_bound(points.begin(), points.end(), stop.at[axis]) - points.begin();
    };
    std::vector<std::size_t> line;
    for (std::size_t v = 0; v < visits.size(); ++v) {
      bool on_line = !is_taken[v];
      for (std::size_t a = 0; a < map.rank(); ++a)
        on_line = on_line && (a == axis || visits[v].at[a] == visits[start].at[a]);
      if (on_line) line.push_back(v);
    }
    std::sort(line.begin(), line.end(),
              [&](std::size_t a, std::size_t b) { return visits[a].at[axis] < visits[b].at[axis]; });
    const auto here = std::find(line.begin(), line.end(), start);
    auto first = here, last = here;
    while (first != line.begin() && index(visits[*first]) - index(visits[*(first - 1)]) == 1) --first;
    while (last + 1 != line.end() && index(visits[*(last + 1)]) - index(visits[*last]) == 1) ++last;
    return std::vector<std::size_t>(first, last + 1);
  };

  std::vector<drive_leg> result;
  for (std::size_t v = 0; v < visits.size(); ++v) {
    if (is_taken[v]) continue;
    std::vector<std::size_t> longest;
    for (std::size_t axis = 0; axis < map.rank(); ++axis)
      if (auto row = row_of(v, axis); row.size() > longest.size()) longest = std::move(row);
    drive_leg leg{.from = visits[longest.front()].at, .to = visits[longest.back()].at};
    for (const std::size_t k : longest) {
      is_taken[k] = true;
      leg.error_before = (std::max)(leg.error_before, visits[k].error_before);
      leg.error_after = (std::max)(leg.error_after, visits[k].error_after);
      leg.gain += visits[k].gain;
    }
    result.push_back(std::move(leg));
  }
  return result;
}

}  // namespace fettle

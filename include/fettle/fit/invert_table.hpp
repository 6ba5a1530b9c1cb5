// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "fettle/error.hpp"
#include "fettle/fit/cell_text.hpp"
#include "fettle/map/dynamic_table.hpp"
#include "fettle/map/interpolate.hpp"
#include "fettle/map/inverse.hpp"

namespace fettle {

/// Which of many equally good answers an inverse map holds where the map is flat.
enum class flat_choice : std::uint8_t {
  smallest,
  largest,
  nearest_to_last,  ///< nearest to the answer to the same demand at the line before; the first line: the smallest
};

/// What a map can make of one demand.
enum class demand_status : std::uint8_t {
  unique,
  not_unique,  ///< the map is flat there: any coordinate of a stretch gives the demand
  too_high,    ///< more than the map reaches on that line: the coordinate of its largest value
  too_low,     ///< less than the map reaches: the coordinate of its smallest value
};

struct inverse_options {
  std::size_t along = 0;  ///< the axis to solve for
  flat_choice flat = flat_choice::smallest;
};

/// The inverse of a map along one axis.
struct inverse_map {
  dynamic_table<double> table;        ///< the map's axes, but demands in place of the axis solved for
  std::vector<demand_status> status;  ///< per cell of `table`
  double node_error = 0;              ///< largest distance of the map at the inverse's cells from reachable demands
  double between_error = 0;           ///< the same half way between demands that both can be reached
  [[nodiscard]] std::size_t count(demand_status which) const {
    return static_cast<std::size_t>(std::count(status.begin(), status.end(), which));
  }
};

namespace detail {

/// The values of a table one line after another along an axis.
class table_lines {
 public:
  table_lines(const dynamic_table<double>& table, std::size_t along) : axis_(table.axes()[along]) {
    for (std::size_t a = along + 1; a < table.rank(); ++a) stride_ *= table.axes()[a].size();
    lines_ = table.size() / axis_.size();
  }
  [[nodiscard]] std::size_t count() const noexcept { return lines_; }
  /// Index of node k of a line in a table whose axis has `size` points.
  [[nodiscard]] std::size_t index(std::size_t line, std::size_t k, std::size_t size) const noexcept {
    return (line / stride_ * size + k) * stride_ + line % stride_;
  }
  [[nodiscard]] std::vector<double> values(const dynamic_table<double>& table, std::size_t line) const {
    std::vector<double> result(axis_.size());
    for (std::size_t k = 0; k < result.size(); ++k) result[k] = table.values()[index(line, k, result.size())];
    return result;
  }

 private:
  const dynamic_axis<double>& axis_;
  std::size_t stride_ = 1, lines_ = 0;
};

/// Refuses a line that rises and falls, or holds something that is no number.
inline void require_monotone(const dynamic_table<double>& table, const table_lines& lines, std::size_t line) {
  const auto values = lines.values(table, line);
  bool rises = false, falls = false;
  for (std::size_t k = 0; k < values.size(); ++k) {
    const std::size_t cell = lines.index(line, k, values.size());
    if (!std::isfinite(values[k]))
      throw error("inverse: " + cell_text(table.axes(), cell) + " holds " + short_text(values[k]) +
                  ", expected finite values; fill the map first");
    if (k == 0) continue;
    rises = rises || values[k] > values[k - 1];
    falls = falls || values[k] < values[k - 1];
    if (rises && falls)
      throw error("inverse: the map turns at " + cell_text(table.axes(), cell) + ", from " + short_text(values[k - 1]) +
                  " to " + short_text(values[k]) +
                  "; expected lines that only rise or only fall. Limit the shape of the map first");
  }
}

/// A demand on one line: the stretch of coordinates that answers it.
struct demand_answer {
  double from = 0, to = 0;
  demand_status status = demand_status::unique;
};

[[nodiscard]] inline demand_answer answer(const map_view<1, double>& curve, double demand) {
  demand_answer result;
  if (solve(curve, demand, [&](double from, double to) {
        result.from = from;
        result.to = to;
      }) > 0) {
    if (result.from < result.to) result.status = demand_status::not_unique;
    return result;
  }
  const auto& axis = curve.axes[0];
  const auto [low, high] = std::minmax_element(curve.values, curve.values + axis.size);
  result.status = demand > *high ? demand_status::too_high : demand_status::too_low;
  const double end = demand > *high ? *high : *low;
  static_cast<void>(solve(curve, end, [&](double from, double to) {
    result.from = from;
    result.to = to;
  }));
  return result;
}

[[nodiscard]] inline bool is_reachable(demand_status status) noexcept {
  return status == demand_status::unique || status == demand_status::not_unique;
}

}  // namespace detail

/// Evenly spaced demands from the smallest to the largest value of a map.
///
/// Errors: `fettle::error` for fewer than two, or a map that is flat everywhere.
[[nodiscard]] inline dynamic_axis<double> even_demands(const dynamic_table<double>& map, std::size_t count) {
  const auto [low, high] = std::minmax_element(map.values().begin(), map.values().end());
  std::vector<double> points(count);
  for (std::size_t i = 0; i < count; ++i)
    points[i] =
        i + 1 == count ? *high : *low + (*high - *low) * static_cast<double>(i) / static_cast<double>(count - 1);
  auto axis = dynamic_axis<double>::from(std::move(points));
  if (!axis)
    throw error("inverse: " + std::to_string(count) + " demands from " + short_text(*low) + " to " + short_text(*high) +
                ", expected two or more between different values");
  return *std::move(axis);
}

/// The inverse of a monotone map along one axis: torque over speed and throttle becomes throttle over speed and torque.
///
/// @param map     rank 1 to 3; along the axis solved for, every line rises or falls, flat stretches allowed.
/// @param demands the new axis, in the unit of the map.
/// @return        a map whose cells give the demands back to rounding wherever they can be reached. Between demands it
///                is a straight line: `between_error` says what that costs. A grid that holds every value of a curve
///                has no such error.
/// Source:        every line is made of straight pieces, each of which is inverted.
/// Outside:       a demand that cannot be reached gets the coordinate of the nearest value, and its status.
/// Errors:        `fettle::error` naming the cell where a line turns or holds no number.
[[nodiscard]] inline inverse_map invert_table(const dynamic_table<double>& map, const dynamic_axis<double>& demands,
                                              const inverse_options& options) {
  if (options.along >= map.rank())
    throw error("inverse: axis " + std::to_string(options.along) + " of a map of rank " + std::to_string(map.rank()) +
                ", expected one of its axes, counted from 0");
  const detail::table_lines lines(map, options.along);
  const auto& axis = map.axes()[options.along];
  auto axes = map.axes();
  axes[options.along] = demands;
  const std::size_t n = demands.size();
  std::vector<double> coordinates(lines.count() * n), before(n, std::numeric_limits<double>::lowest());
  std::vector<demand_status> status(coordinates.size());
  double node_error = 0, between_error = 0;
  for (std::size_t line = 0; line < lines.count(); ++line) {
    detail::require_monotone(map, lines, line);
    const auto values = lines.values(map, line);
    const map_view<1, double> curve{{{{axis.points().data(), axis.size()}}}, values.data()};
    for (std::size_t k = 0; k < n; ++k) {
      const auto answer = detail::answer(curve, demands.points()[k]);
      double& x = coordinates[lines.index(line, k, n)];
      x = options.flat == flat_choice::largest    ? answer.to
          : options.flat == flat_choice::smallest ? answer.from
                                                  : (std::clamp)(before[k], answer.from, answer.to);
      status[lines.index(line, k, n)] = answer.status;
      if (detail::is_reachable(answer.status))
        node_error = (std::max)(node_error, std::abs(interpolate(curve, x) - demands.points()[k]));
      if (k > 0 && detail::is_reachable(answer.status) && detail::is_reachable(status[lines.index(line, k - 1, n)])) {
        const double middle = (x + coordinates[lines.index(line, k - 1, n)]) / 2;
        const double wanted = (demands.points()[k - 1] + demands.points()[k]) / 2;
        between_error = (std::max)(between_error, std::abs(interpolate(curve, middle) - wanted));
      }
      before[k] = x;
    }
  }
  return {*dynamic_table<double>::from(std::move(axes), std::move(coordinates)), std::move(status), node_error,
          between_error};
}

}  // namespace fettle

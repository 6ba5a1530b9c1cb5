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
#include "fettle/fit/detail/limited_squares.hpp"
#include "fettle/map/dynamic_table.hpp"

namespace fettle {

/// What the values of a map may do along an axis.
enum class shape { non_decreasing, non_increasing, convex, concave, slope_at_least, slope_at_most };

/// Breakpoints first .. last of an axis, both included; without numbers, the whole axis.
struct cell_range {
  std::size_t first = 0;
  std::size_t last = (std::numeric_limits<std::size_t>::max)();
};

/// One limit on the shape of a map.
struct shape_limit {
  shape keep = shape::non_decreasing;
  std::size_t axis = 0;
  double slope = 0;                  ///< for slope limits, in the map's unit per unit of the axis
  std::vector<cell_range> within{};  ///< per axis, or empty: the whole map
};

namespace detail {

// The limits on one line of cells: from `start`, `stride` apart, breakpoints x[from .. to].
inline void limit_line(std::vector<linear_limit>& limits, const shape_limit& wanted, const std::vector<double>& x,
                       std::size_t from, std::size_t to, std::size_t start, std::size_t stride) {
  const auto cell = [&](std::size_t i) { return static_cast<std::uint32_t>(start + i * stride); };
  const bool curved = wanted.keep == shape::convex || wanted.keep == shape::concave;
  const bool upward =
      wanted.keep == shape::non_decreasing || wanted.keep == shape::slope_at_least || wanted.keep == shape::convex;
  const double sign = upward ? 1 : -1;
  if (curved) {
    for (std::size_t i = from; i + 2 <= to; ++i) {
      const double left = sign / (x[i + 1] - x[i]), right = sign / (x[i + 2] - x[i + 1]);
      limits.push_back({{cell(i), cell(i + 1), cell(i + 2)}, {left, -left - right, right}, 0});
    }
    return;
  }
  const bool sloped = wanted.keep == shape::slope_at_least || wanted.keep == shape::slope_at_most;
  for (std::size_t i = from; i + 1 <= to; ++i)
    limits.push_back(
        {{cell(i), cell(i + 1), cell(i)}, {-sign, sign, 0}, sloped ? sign * wanted.slope * (x[i + 1] - x[i]) : 0});
}

[[nodiscard]] inline std::vector<linear_limit> limits_on(const std::vector<dynamic_axis<double>>& axes,
                                                         std::span<const shape_limit> wanted) {
  std::vector<linear_limit> limits;
  for (std::size_t w = 0; w < wanted.size(); ++w) {
    const shape_limit& limit = wanted[w];
    const std::string name = "limit_shape: limit " + std::to_string(w);
    if (limit.axis >= axes.size())
      throw error(name + " is on axis " + std::to_string(limit.axis) + " of " + std::to_string(axes.size()));
    if (!limit.within.empty() && limit.within.size() != axes.size())
      throw error(name + ": give a range for every axis or none");
    for (std::size_t a = 0; a < limit.within.size(); ++a) {
      const auto [first, named] = limit.within[a];
      const std::size_t end = axes[a].size() - 1, last = named == cell_range{}.last ? end : named;
      if (first <= last && last <= end) continue;
      throw error(name + " is for breakpoints " + std::to_string(first) + " to " + std::to_string(last) + " of axis " +
                  std::to_string(a) + ", expected two of 0 to " + std::to_string(end) + ", the lower first");
    }
    if (!std::isfinite(limit.slope)) throw error(name + " has a slope that is not finite");
    std::size_t cells = 1, stride = 1;
    for (std::size_t a = 0; a < axes.size(); ++a) {
      cells *= axes[a].size();
      if (a > limit.axis) stride *= axes[a].size();
    }
    const auto range = [&](std::size_t a) {
      cell_range r = limit.within.empty() ? cell_range{} : limit.within[a];
      r.last = (std::min)(r.last, axes[a].size() - 1);
      return r;
    };
    for (std::size_t k = 0; k < cells; ++k) {  // every cell that begins a line within the ranges
      bool begins = true;
      for (std::size_t a = axes.size(), rest = k; a-- > 0; rest /= axes[a].size()) {
        const std::size_t at = rest % axes[a].size();
        begins = begins && (a == limit.axis ? at == 0 : at >= range(a).first && at <= range(a).last);
      }
      if (begins)
        limit_line(limits, limit, axes[limit.axis].points(), range(limit.axis).first, range(limit.axis).last, k,
                   stride);
    }
  }
  return limits;
}

// Brings cells that limits keep in order, but for rounding, into that order exactly: each is raised to the larger of
// those it may not be below.
inline void settle_order(std::span<double> values, std::span<const linear_limit> limits) {
  for (bool has_changed = true; has_changed;) {
    has_changed = false;
    for (const linear_limit& limit : limits) {
      if (limit.least != 0 || limit.factor[2] != 0) continue;
      const bool second_is_above = limit.factor[1] > 0;
      const double below = values[limit.cell[second_is_above ? 0 : 1]];
      double& above = values[limit.cell[second_is_above ? 1 : 0]];
      if (above >= below) continue;
      above = below;
      has_changed = true;
    }
  }
}

}  // namespace detail

/// The map nearest to a given one, in weighted least squares, that keeps to limits on its shape.
///
/// @param standard_error  per cell, or none: all alike. Cells of larger error move more.
/// @return  the same map, to the bit, if it keeps to the limits already; else one that does: exactly where it may not
///          fall or not rise, to rounding where slopes are limited.
/// Errors:  `fettle::error` when the limits contradict each other, naming a cell; when a value is not finite, or a
///          standard error is not positive.
/// Cost:    some 20 factorisations as for smoothing.
/// Source:  least squares under inequalities; of one line that may not fall it is isotonic regression, R. E. Barlow et
///          al., "Statistical Inference under Order Restrictions", Wiley 1972 (from memory).
///          `detail::limited_squares` says which solver and why.
[[nodiscard]] inline dynamic_table<double> limit_shape(dynamic_table<double> table, std::span<const shape_limit> wanted,
                                                       std::span<const double> standard_error = {}) {
  std::vector<detail::linear_limit> limits = detail::limits_on(table.axes(), wanted);
  if (!standard_error.empty() && standard_error.size() != table.size())
    throw error("limit_shape: give a standard error for every cell or none");
  double size = 0;
  for (std::size_t k = 0; k < table.size(); ++k) {
    if (!std::isfinite(table.values()[k]))
      throw error("limit_shape: " + cell_text(table.axes(), k) + " has no finite value; fill the map first");
    if (!standard_error.empty() && !(standard_error[k] > 0))
      throw error("limit_shape: the standard error of " + cell_text(table.axes(), k) + " must be positive");
    size = (std::max)(size, std::abs(table.values()[k]));
  }
  const bool kept = std::all_of(limits.begin(), limits.end(), [&](const detail::linear_limit& limit) {
    double value = -limit.least, reach = 0;
    for (std::size_t a = 0; a < 3; ++a) {
      value += limit.factor[a] * table.values()[limit.cell[a]];
      reach += std::abs(limit.factor[a]);
    }
    return value >= -1e-11 * reach * size;
  });
  if (kept) {
    detail::settle_order(table.values(), limits);
    return table;
  }

  const auto cells = static_cast<Eigen::Index>(table.size());
  double best = std::numeric_limits<double>::infinity();
  for (const double s : standard_error) best = (std::min)(best, s);
  detail::quadratic goal{.entries = {}, .right = Eigen::VectorXd(cells)};
  for (std::size_t k = 0; k < table.size(); ++k) {
    // Relative to the best known cell; an infinite error leaves a trace of weight, or the cell would have no value.
    // Where every error is infinite, none is known better than another.
    const double weight = std::isinf(best) ? 1.0 : (std::max)(std::pow(best / standard_error[k], 2), 1e-8);
    goal.entries.push_back({static_cast<std::uint32_t>(k), static_cast<std::uint32_t>(k), weight});
    goal.right[static_cast<Eigen::Index>(k)] = weight * table.values()[k];
  }
  const std::vector<detail::linear_limit> all = limits;
  const detail::limited_optimum optimum = detail::limited_squares(std::move(goal), std::move(limits)).solve();
  if (!optimum.feasible)
    throw error("limit_shape: the limits contradict each other near " +
                cell_text(table.axes(), all[optimum.worst].cell[0]));
  std::copy(optimum.cells.begin(), optimum.cells.end(), table.values().begin());
  detail::settle_order(table.values(), all);
  return table;
}

}  // namespace fettle

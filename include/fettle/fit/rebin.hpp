// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <iterator>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "fettle/error.hpp"
#include "fettle/fit/cell_text.hpp"
#include "fettle/fit/curve.hpp"
#include "fettle/fit/detail/tridiagonal.hpp"
#include "fettle/fit/fitted_map.hpp"
#include "fettle/map/dynamic_table.hpp"
#include "fettle/map/place.hpp"

namespace fettle {

/// How a map gets its values on new breakpoints.
enum class rebin_by {
  linear,        ///< the old surface at the new breakpoints
  monotone,      ///< a monotone curve along each axis in turn (`curve_rule`)
  makima,        ///< a modified Akima curve along each axis in turn
  least_squares  ///< the surface nearest to the old one, in the mean square over the new axes' range
};

/// A map on new breakpoints and what the change has cost.
struct rebinned_map {
  dynamic_table<double> table;
  double largest_error = 0;        ///< largest distance between the old and the new surface, anywhere
  std::vector<double> largest_at;  ///< where, one coordinate per axis
  double rms_error = 0;            ///< root mean square distance over the range of both
};

namespace detail {

/// The values of a map with one axis replaced: `line` makes the new values along it of the old.
template <class Line>
[[nodiscard]] std::vector<double> along_axis(const std::vector<std::size_t>& shape, std::span<const double> values,
                                             std::size_t axis, std::size_t new_size, Line&& line) {
  std::size_t inner = 1, outer = 1;
  for (std::size_t a = 0; a < shape.size(); ++a) (a < axis ? outer : inner) *= a == axis ? 1 : shape[a];
  std::vector<double> result(outer * new_size * inner), from(shape[axis]);
  for (std::size_t o = 0; o < outer; ++o)
    for (std::size_t i = 0; i < inner; ++i) {
      for (std::size_t k = 0; k < from.size(); ++k) from[k] = values[(o * from.size() + k) * inner + i];
      const std::vector<double> to = line(from);
      for (std::size_t k = 0; k < new_size; ++k) result[(o * new_size + k) * inner + i] = to[k];
    }
  return result;
}

/// The values of a map with every axis replaced in turn; `line(axis)` gives what makes new values along it.
template <class LineOf>
[[nodiscard]] std::vector<double> along_all(const std::vector<dynamic_axis<double>>& from,
                                            std::span<const double> values, const std::vector<dynamic_axis<double>>& to,
                                            LineOf&& line_of) {
  std::vector<std::size_t> shape;
  for (const auto& axis : from) shape.push_back(axis.size());
  std::vector<double> result(values.begin(), values.end());
  for (std::size_t a = 0; a < from.size(); ++a) {
    result = along_axis(shape, result, a, to[a].size(), line_of(a));
    shape[a] = to[a].size();
  }
  return result;
}

[[nodiscard]] inline std::vector<double> resample(const std::vector<dynamic_axis<double>>& from,
                                                  std::span<const double> values,
                                                  const std::vector<dynamic_axis<double>>& to, curve_rule rule) {
  return along_all(from, values, to, [&](std::size_t a) {
    return [&from = from[a], &to = to[a], rule](const std::vector<double>& line) {
      const curve through(from, line, rule);
      std::vector<double> result;
      for (const double x : to.points()) result.push_back(through(x));
      return result;
    };
  });
}

[[nodiscard]] inline dynamic_axis<double> union_of(const dynamic_axis<double>& a, const dynamic_axis<double>& b) {
  std::vector<double> points;
  std::set_union(a.points().begin(), a.points().end(), b.points().begin(), b.points().end(),
                 std::back_inserter(points));
  auto both = dynamic_axis<double>::from(std::move(points));
  if (!both) throw error("rebin: the old and the new axis lie further apart than a number can say");
  return *std::move(both);
}

/// Best approximation along one axis by straight pieces between new breakpoints: M z = r, where M contains the inner
/// products of the new hat functions and r those with the old line. Exact, since both are straight between the
/// breakpoints of either axis.
class line_projection {
 public:
  line_projection(const dynamic_axis<double>& from, const dynamic_axis<double>& to)
      : from_{from}, to_{to}, both_{union_of(from, to)}, mass_{mass_of(to.points())} {}

  [[nodiscard]] std::vector<double> operator()(const std::vector<double>& line) const {
    std::vector<double> result(to_.size(), 0.0);
    const auto& x = both_.points();
    for (std::size_t k = 0; k + 1 < x.size(); ++k) {
      if (x[k] < to_.points().front() || x[k + 1] > to_.points().back()) continue;
      const double width = x[k + 1] - x[k];
      const double at[] = {x[k], (x[k] + x[k + 1]) / 2, x[k + 1]}, weight[] = {width / 6, 4 * width / 6, width / 6};
      for (std::size_t s = 0; s < 3; ++s) {  // Simpson's rule is exact for products of straight lines
        const auto p = locate(to_.view(), at[s]), q = locate(from_.view(), at[s]);
        const double value = (1 - q.fraction) * line[q.index] + q.fraction * line[q.index + 1];
        result[p.index] += weight[s] * (1 - p.fraction) * value;
        result[p.index + 1] += weight[s] * p.fraction * value;
      }
    }
    mass_.solve(result);
    return result;
  }

 private:
  [[nodiscard]] static tridiagonal_factor mass_of(const std::vector<double>& x) {
    std::vector<double> diagonal(x.size(), 0.0), beside;
    for (std::size_t k = 0; k + 1 < x.size(); ++k) {
      const double width = x[k + 1] - x[k];
      diagonal[k] += width / 3;
      diagonal[k + 1] += width / 3;
      beside.push_back(width / 6);
    }
    return {std::move(diagonal), std::move(beside)};
  }

  dynamic_axis<double> from_, to_, both_;
  tridiagonal_factor mass_;
};

/// Integral of the square of a map along every axis, by the inner products of its hat functions.
[[nodiscard]] inline double square_integral(const std::vector<dynamic_axis<double>>& axes,
                                            std::span<const double> values) {
  const std::vector<double> image = along_all(axes, values, axes, [&](std::size_t a) {
    return [&x = axes[a].points()](const std::vector<double>& line) {
      std::vector<double> result(line.size(), 0.0);
      for (std::size_t k = 0; k + 1 < line.size(); ++k) {
        const double width = x[k + 1] - x[k];
        result[k] += width * (2 * line[k] + line[k + 1]) / 6;
        result[k + 1] += width * (line[k] + 2 * line[k + 1]) / 6;
      }
      return result;
    };
  });
  double sum = 0;
  for (std::size_t k = 0; k < image.size(); ++k) sum += image[k] * values[k];
  return sum;
}

}  // namespace detail

/// Puts a map on new breakpoints and reports what that costs.
///
/// The errors are exact: between the breakpoints of either map both surfaces are multilinear, so their distance is
/// largest at a crossing of the two sets of breakpoints, and its square has a known integral.
///
/// Source:  L2 projection on hat functions, whose inner products are those of the finite-element mass matrix: any
///          textbook; the curves as `curve`.
/// Outside: both maps keep their end values, and the errors cover the range of both: a cut-off part of the old map counts.
/// Errors:  `fettle::error` when the rank differs, a value is not finite, or old and new axis together span more than
///          a number can say. New axes that contain the old breakpoints
///          keep the surface, to rounding, by `linear` and `least_squares`.
[[nodiscard]] inline rebinned_map rebin(const dynamic_table<double>& table, std::vector<dynamic_axis<double>> axes,
                                        rebin_by method = rebin_by::least_squares) {
  if (axes.size() != table.rank() || axes.empty())
    throw error("rebin: give one new axis for each of the map's " + std::to_string(table.rank()));
  for (std::size_t k = 0; k < table.size(); ++k)
    if (!std::isfinite(table.values()[k]))
      throw error("rebin: " + cell_text(table.axes(), k) + " has no finite value; fill the map first");
  std::vector<double> values;
  if (method == rebin_by::least_squares) {
    values = detail::along_all(table.axes(), table.values(), axes,
                               [&](std::size_t a) { return detail::line_projection(table.axes()[a], axes[a]); });
  } else {
    const curve_rule rule = method == rebin_by::linear     ? curve_rule::linear
                            : method == rebin_by::monotone ? curve_rule::monotone
                                                           : curve_rule::makima;
    values = detail::resample(table.axes(), table.values(), axes, rule);
  }

  std::vector<dynamic_axis<double>> both;
  double volume = 1;
  for (std::size_t a = 0; a < axes.size(); ++a) {
    both.push_back(detail::union_of(table.axes()[a], axes[a]));
    volume *= both[a].points().back() - both[a].points().front();
  }
  std::vector<double> distance = detail::resample(axes, values, both, curve_rule::linear);
  const std::vector<double> old = detail::resample(table.axes(), table.values(), both, curve_rule::linear);
  std::size_t largest = 0;
  for (std::size_t k = 0; k < distance.size(); ++k) {
    distance[k] -= old[k];
    if (std::abs(distance[k]) > std::abs(distance[largest])) largest = k;
  }
  return {.table = detail::table_of(std::move(axes), std::move(values)),
          .largest_error = std::abs(distance[largest]),
          .largest_at = cell_coordinates(both, largest),
          .rms_error = std::sqrt((std::max)(0.0, detail::square_integral(both, distance)) / volume)};
}

}  // namespace fettle

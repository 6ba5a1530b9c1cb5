// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <span>
#include <vector>

#include "common/report/colour.hpp"

namespace report {

struct point {
  double x = 0, y = 0;
};

namespace detail {

/// Which of `count` equal strips of the range the value lies in, the end strips holding all beyond.
[[nodiscard]] std::size_t strip(double value, range r, std::size_t count);

}  // namespace detail

/// The points of a line that make a difference at this many pixel columns: per column the first, lowest, highest and
/// last. What is not finite breaks the line where it fills a whole column, else it is passed over.
///
/// Shape:  at most four points a column and pass; x in any order.
/// Cost:   linear in points.
/// Source: U. Jugel, Z. Jerzak, G. Hackenbroich, V. Markl, "M4: a visualization-oriented time series data
///         aggregation", Proc. VLDB Endowment 7 (2014) 797-808, doi:10.14778/2732951.2732953.
[[nodiscard]] std::vector<point> thinned_line(std::span<const double> x, std::span<const double> y, range shown,
                                              std::size_t columns);

/// The points of a cloud that make a difference on a grid: one per cell, the farthest from half height, so that
/// the lowest and the highest stay.
///
/// Cost: linear in points and cells.
[[nodiscard]] std::vector<point> thinned_cloud(std::span<const double> x, std::span<const double> y, range shown_x,
                                               range shown_y, std::size_t columns, std::size_t rows);

}  // namespace report

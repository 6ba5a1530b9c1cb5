// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cstddef>
#include <limits>
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

inline constexpr point gap{std::numeric_limits<double>::quiet_NaN(), std::numeric_limits<double>::quiet_NaN()};

/// What one pixel column of a line needs: where it enters, how low and high it goes, where it leaves.
class line_column {
 public:
  void add(std::size_t index, double y) {
    if (empty_) first_ = low_ = high_ = {index, y};
    empty_ = false;
    last_ = {index, y};
    if (y < low_.y) low_ = last_;
    if (y > high_.y) high_ = last_;
  }
  void flush(std::span<const double> x, std::vector<point>& out) {
    if (empty_) return;
    auto inner = std::minmax(low_, high_, [](const entry& a, const entry& b) { return a.index < b.index; });
    std::size_t written = first_.index;
    out.push_back({x[first_.index], first_.y});
    for (const entry& e : {inner.first, inner.second, last_})
      if (e.index > written) {
        out.push_back({x[e.index], e.y});
        written = e.index;
      }
    empty_ = true;
  }
  [[nodiscard]] bool empty() const noexcept { return empty_; }

 private:
  struct entry {
    std::size_t index = 0;
    double y = 0;
  };
  entry first_, low_, high_, last_;
  bool empty_ = true;
};

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

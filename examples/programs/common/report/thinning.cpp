// SPDX-License-Identifier: MIT
#include "common/report/thinning.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <numeric>
#include <span>
#include <vector>

#include "common/report/colour.hpp"

namespace report {

namespace detail {

std::size_t strip(double value, range r, std::size_t count) {
  const double part = r.high > r.low ? (value - r.low) / (r.high - r.low) : 0;
  return static_cast<std::size_t>(std::clamp(part * static_cast<double>(count), 0.0, static_cast<double>(count - 1)));
}

}  // namespace detail
std::vector<point> thinned_line(std::span<const double> x, std::span<const double> y, range shown,
                                std::size_t columns) {
  std::vector<point> result;
  detail::line_column column;
  bool column_has_gap = false;
  std::size_t present = columns;  // none yet
  for (std::size_t i = 0; i < x.size(); ++i) {
    if (!std::isfinite(x[i])) continue;
    const std::size_t here = detail::strip(x[i], shown, columns);
    if (here != present) {
      if (column.empty() && column_has_gap) result.push_back(detail::gap);
      column.flush(x, result);
      column_has_gap = false;
      present = here;
    }
    if (std::isfinite(y[i]))
      column.add(i, y[i]);
    else
      column_has_gap = true;
  }
  column.flush(x, result);
  return result;
}

std::vector<point> thinned_cloud(std::span<const double> x, std::span<const double> y, range shown_x, range shown_y,
                                 std::size_t columns, std::size_t rows) {
  std::vector<point> kept(columns * rows, detail::gap);
  const double middle = std::midpoint(shown_y.low, shown_y.high);
  for (std::size_t i = 0; i < x.size(); ++i) {
    if (!std::isfinite(x[i]) || !std::isfinite(y[i])) continue;
    point& cell = kept[detail::strip(x[i], shown_x, columns) * rows + detail::strip(y[i], shown_y, rows)];
    if (std::isnan(cell.y) || std::abs(y[i] - middle) > std::abs(cell.y - middle)) cell = {x[i], y[i]};
  }
  std::erase_if(kept, [](const point& p) { return std::isnan(p.y); });
  return kept;
}

}  // namespace report

// SPDX-License-Identifier: MIT
#include "common/report/thinning.hpp"

#include <cmath>
#include <numeric>

namespace report {
namespace detail {

std::size_t strip(double value, range r, std::size_t count) {
  const double part = r.high > r.low ? (value - r.low) / (r.high - r.low) : 0;
  return static_cast<std::size_t>(std::clamp(part * static_cast<double>(count), 0.0, static_cast<double>(count - 1)));
}

}  // namespace detail

namespace {

constexpr point gap{std::numeric_limits<double>::quiet_NaN(), std::numeric_limits<double>::quiet_NaN()};

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

}  // namespace

std::vector<point> thinned_line(std::span<const double> x, std::span<const double> y, range shown,
                                std::size_t columns) {
  std::vector<point> result;
  line_column column;
  bool column_has_gap = false;
  std::size_t present = columns;  // none yet
  for (std::size_t i = 0; i < x.size(); ++i) {
    if (!std::isfinite(x[i])) continue;
    const std::size_t here = detail::strip(x[i], shown, columns);
    if (here != present) {
      if (column.empty() && column_has_gap) result.push_back(gap);
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
  std::vector<point> kept(columns * rows, gap);
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

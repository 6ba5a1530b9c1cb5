// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <concepts>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <utility>
#include <vector>

#include "fettle/map/axis.hpp"
#include "fettle/map/buckets.hpp"
#include "fettle/map/view.hpp"

namespace fettle {

/// Breakpoints whose number is known only at run time; the same rule as `axis`.
///
/// Errors: `from` gives nothing when the breakpoints break the rule; `check_axis` says how.
template <std::floating_point T>
class dynamic_axis {
 public:
  [[nodiscard]] static std::optional<dynamic_axis> from(std::vector<T> points) {
    if (check_axis(points.data(), points.size()).fault != axis_fault::none) return std::nullopt;
    return dynamic_axis{std::move(points)};
  }

  [[nodiscard]] std::size_t size() const noexcept { return points_.size(); }
  [[nodiscard]] const std::vector<T>& points() const noexcept { return points_; }
  [[nodiscard]] axis_view<T> view() const noexcept {
    if (window_ == 0) return {points_.data(), points_.size()};
    return {points_.data(),
            points_.size(),
            {first_cell_.data(), inverse_widths_.data(), points_.front(), points_.back(), scale_, window_}};
  }

  friend bool operator==(const dynamic_axis& a, const dynamic_axis& b) { return a.points_ == b.points_; }

 private:
  explicit dynamic_axis(std::vector<T> points)
      : points_{std::move(points)}, inverse_widths_(points_.size()), first_cell_(detail::bucket_count(points_.size())) {
    const auto made = detail::make_buckets(points_.data(), size(), first_cell_.data(), inverse_widths_.data());
    scale_ = made.scale;
    window_ = made.window;
  }

  std::vector<T> points_, inverse_widths_;
  std::vector<std::uint16_t> first_cell_;
  T scale_{};
  std::size_t window_ = 0;
};

/// A map whose shape is known only at run time (host tools that read files). Row-major, the last axis runs fastest.
///
/// Shape:  rank 0 (one number) to 3.
/// Errors: `from` gives nothing when the number of values is not the product of the axis sizes, or the rank exceeds 3.
template <std::floating_point T>
class dynamic_table {
 public:
  [[nodiscard]] static std::optional<dynamic_table> from(std::vector<dynamic_axis<T>> axes, std::vector<T> values) {
    if (axes.size() > 3) return std::nullopt;
    std::size_t crossings = 1;
    for (const auto& axis : axes) {
      if (axis.size() > values.size() / crossings) return std::nullopt;  // and the product stays within its type
      crossings *= axis.size();
    }
    if (values.size() != crossings) return std::nullopt;
    return dynamic_table{std::move(axes), std::move(values)};
  }

  [[nodiscard]] std::size_t rank() const noexcept { return axes_.size(); }
  [[nodiscard]] std::size_t size() const noexcept { return values_.size(); }
  [[nodiscard]] const std::vector<dynamic_axis<T>>& axes() const noexcept { return axes_; }
  [[nodiscard]] std::span<const T> values() const noexcept { return values_; }
  [[nodiscard]] std::span<T> values() noexcept { return values_; }

  /// What algorithms see. R must be the table's rank; the view lives no longer than the table.
  template <std::size_t R>
  [[nodiscard]] map_view<R, T> view() const noexcept {
    map_view<R, T> result{.axes = {}, .values = values_.data()};
    for (std::size_t i = 0; i < R; ++i) result.axes[i] = axes_[i].view();
    return result;
  }

  friend bool operator==(const dynamic_table&, const dynamic_table&) = default;

 private:
  dynamic_table(std::vector<dynamic_axis<T>> axes, std::vector<T> values) noexcept
      : axes_{std::move(axes)}, values_{std::move(values)} {}
  std::vector<dynamic_axis<T>> axes_;
  std::vector<T> values_;
};

/// The breakpoint number of a cell on each axis; entries beyond the rank are 0. The last axis runs fastest.
///
/// @param axes  at most 3.
template <std::floating_point T>
[[nodiscard]] std::array<std::size_t, 3> cell_indices(const std::vector<dynamic_axis<T>>& axes,
                                                      std::size_t cell) noexcept {
  std::array<std::size_t, 3> indices{};
  for (std::size_t axis = axes.size(); axis-- > 0; cell /= axes[axis].size()) indices[axis] = cell % axes[axis].size();
  return indices;
}

/// The coordinates at which a cell stands, one per axis, each in the unit of its axis.
template <std::floating_point T>
[[nodiscard]] std::vector<T> cell_coordinates(const std::vector<dynamic_axis<T>>& axes, std::size_t cell) {
  std::vector<T> coordinates(axes.size());
  for (std::size_t axis = axes.size(); axis-- > 0; cell /= axes[axis].size())
    coordinates[axis] = axes[axis].points()[cell % axes[axis].size()];
  return coordinates;
}

/// Calls use(view) with the view of the table's own rank, so that rank-dependent code is written once.
///
/// @param use  callable with `map_view<R, T>` for R = 0 to 3, of one result type.
template <std::floating_point T, class Use>
decltype(auto) visit_rank(const dynamic_table<T>& table, Use&& use) {
  switch (table.rank()) {
    case 0:
      return use(table.template view<0>());
    case 1:
      return use(table.template view<1>());
    case 2:
      return use(table.template view<2>());
    default:
      return use(table.template view<3>());
  }
}

}  // namespace fettle

// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cstddef>
#include <optional>

#include "fettle/map/axis.hpp"
#include "fettle/map/scalar.hpp"
#include "fettle/map/view.hpp"

namespace fettle {

/// The breakpoints of one input and nothing beside them: a quarter of the memory of an `axis`, for maps that are read
/// near the last point or not often.
///
/// Unit:   the input's own.
/// Shape:  N breakpoints, N >= 2, in N numbers.
/// Errors: as `axis`: a literal out of order does not compile, run-time data goes through `from()`.
/// Cost:   a search bisects, log2(N) comparisons, and divides; with a hint two comparisons and the division.
template <coordinate T, std::size_t N>
class compact_axis {
  static_assert(N >= 2, "fettle::compact_axis needs at least two breakpoints");

 public:
  using value_type = T;

  consteval compact_axis(const T (&points)[N]) : compact_axis{std::to_array(points)} {}
  consteval explicit compact_axis(const std::array<T, N>& points) : points_{points} {
    if (check_axis(points.data(), N).fault != axis_fault::none) breakpoints_must_be_finite_and_strictly_increasing();
  }

  [[nodiscard]] static constexpr std::optional<compact_axis> from(const std::array<T, N>& points) noexcept {
    if (check_axis(points.data(), N).fault != axis_fault::none) return std::nullopt;
    return compact_axis{unchecked{}, points};
  }

  [[nodiscard]] static constexpr std::size_t size() noexcept { return N; }
  [[nodiscard]] constexpr const std::array<T, N>& points() const noexcept { return points_; }

  /// What algorithms see. The view lives no longer than the axis.
  [[nodiscard]] constexpr axis_view<T> view() const noexcept { return {points_.data(), N}; }

 private:
  struct unchecked {};
  constexpr compact_axis(unchecked, const std::array<T, N>& points) noexcept : points_{points} {}
  static void breakpoints_must_be_finite_and_strictly_increasing();  // not constexpr: its name is the message

  std::array<T, N> points_;
};

}  // namespace fettle

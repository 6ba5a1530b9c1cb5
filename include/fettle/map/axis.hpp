// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <concepts>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <optional>

#include "fettle/map/buckets.hpp"
#include "fettle/map/scalar.hpp"
#include "fettle/map/view.hpp"

namespace fettle {

/// What is wrong with a row of breakpoints.
enum class axis_fault : std::uint8_t { none, too_few, not_finite, not_increasing, too_wide, too_many };

/// The first fault in a row of breakpoints and where it stands.
struct axis_check {
  axis_fault fault = axis_fault::none;
  std::size_t index = 0;  ///< of the first offending breakpoint
};

/// Checks that breakpoints are at least two, finite, strictly increasing, and no further apart than T can say.
///
/// Errors: the first fault and its index; `axis_fault::none` when the row is sound.
template <coordinate T>
[[nodiscard]] constexpr axis_check check_axis(const T* points, std::size_t count) noexcept {
  if (count < 2) return {axis_fault::too_few, count};
  for (std::size_t i = 0; i < count; ++i) {
    if constexpr (std::floating_point<T>) {
      const T lowest = std::numeric_limits<T>::lowest(), highest = (std::numeric_limits<T>::max)();
      if (!(points[i] >= lowest && points[i] <= highest)) return {axis_fault::not_finite, i};
    }
    if (i > 0 && !(points[i - 1] < points[i])) return {axis_fault::not_increasing, i};
  }
  if constexpr (std::floating_point<T>) {  // halves, because the difference itself would overflow
    const T half_span = points[count - 1] / T{2} - points[0] / T{2};
    if (half_span > (std::numeric_limits<T>::max)() / T{2}) return {axis_fault::too_wide, count - 1};
  }
  return {};
}

/// The breakpoints of one input of a map: finite, strictly increasing, immutable.
///
/// Unit:   the input's own; name it at the variable (`speed_rpm`).
/// Shape:  N breakpoints, N >= 2, hence N-1 cells. Beside them N inverse widths (none on an axis of integers) and
///         4(N-1) 16-bit cell numbers, which make the search O(1).
/// Errors: a literal that breaks the rule does not compile; run-time data goes through `from()`.
template <coordinate T, std::size_t N>
class axis {
  static_assert(N >= 2, "fettle::axis needs at least two breakpoints");

 public:
  using value_type = T;

  consteval axis(const T (&points)[N]) : axis{std::to_array(points)} {
    if (check_axis(points, N).fault != axis_fault::none) breakpoints_must_be_finite_and_strictly_increasing();
  }

  /// The axis with these breakpoints, or nothing when they break the rule (`check_axis` says how).
  [[nodiscard]] static constexpr std::optional<axis> from(const std::array<T, N>& points) noexcept {
    if (check_axis(points.data(), N).fault != axis_fault::none) return std::nullopt;
    return axis{points};
  }

  [[nodiscard]] static constexpr std::size_t size() noexcept { return N; }
  [[nodiscard]] constexpr const std::array<T, N>& points() const noexcept { return points_; }

  /// What algorithms see. The view lives no longer than the axis.
  [[nodiscard]] constexpr axis_view<T> view() const noexcept {
    if (window_ == 0) return {points_.data(), N};
    return {
        points_.data(), N, {first_cell_.data(), inverse_widths_.data(), points_[0], points_[N - 1], scale_, window_}};
  }

 private:
  constexpr explicit axis(const std::array<T, N>& points) noexcept : points_{points} {
    if (check_axis(points.data(), N).fault != axis_fault::none) return;
    const auto made = detail::make_buckets(points_.data(), N, first_cell_.data(), inverse_widths_.data());
    scale_ = made.scale;
    window_ = static_cast<std::uint16_t>(made.window);
  }
  static void breakpoints_must_be_finite_and_strictly_increasing();  // not constexpr: its name is the message

  std::array<T, N> points_;
  std::array<T, std::floating_point<T> ? N : 0> inverse_widths_{};
  std::array<std::uint16_t, detail::bucket_count(N)> first_cell_{};
  T scale_{};
  std::uint16_t window_ = 0;
};

}  // namespace fettle

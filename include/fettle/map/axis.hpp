// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <concepts>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <optional>

namespace fettle {

/// What is wrong with a row of breakpoints.
enum class axis_fault : std::uint8_t { none, too_few, not_finite, not_increasing };

/// The first fault in a row of breakpoints and where it stands.
struct axis_check {
  axis_fault fault = axis_fault::none;
  std::size_t index = 0;  ///< of the first offending breakpoint
};

/// Checks that breakpoints are at least two, finite and strictly increasing.
///
/// Errors: the first fault and its index; `axis_fault::none` when the row is sound.
template <std::floating_point T>
[[nodiscard]] constexpr axis_check check_axis(const T* points, std::size_t count) noexcept {
  if (count < 2) return {axis_fault::too_few, count};
  for (std::size_t i = 0; i < count; ++i) {
    const T lowest = std::numeric_limits<T>::lowest(), highest = (std::numeric_limits<T>::max)();
    if (!(points[i] >= lowest && points[i] <= highest)) return {axis_fault::not_finite, i};
    if (i > 0 && !(points[i - 1] < points[i])) return {axis_fault::not_increasing, i};
  }
  return {};
}

/// The breakpoints of one input of a map: finite, strictly increasing, immutable.
///
/// Unit:   the input's own; name it at the variable (`speed_rpm`).
/// Shape:  N breakpoints, N >= 2, hence N-1 cells.
/// Errors: a literal that breaks the rule does not compile; run-time data goes through `from()`.
template <std::floating_point T, std::size_t N>
class axis {
  static_assert(N >= 2, "fettle::axis needs at least two breakpoints");

 public:
  consteval axis(const T (&points)[N]) : points_{std::to_array(points)} {
    if (check_axis(points, N).fault != axis_fault::none) breakpoints_must_be_finite_and_strictly_increasing();
  }

  /// The axis with these breakpoints, or nothing when they break the rule (`check_axis` says how).
  [[nodiscard]] static constexpr std::optional<axis> from(const std::array<T, N>& points) noexcept {
    if (check_axis(points.data(), N).fault != axis_fault::none) return std::nullopt;
    return axis{points};
  }

  [[nodiscard]] static constexpr std::size_t size() noexcept { return N; }
  [[nodiscard]] constexpr const std::array<T, N>& points() const noexcept { return points_; }

 private:
  constexpr explicit axis(const std::array<T, N>& points) noexcept : points_{points} {}
  static void breakpoints_must_be_finite_and_strictly_increasing();  // not constexpr: its name is the message

  std::array<T, N> points_;
};

}  // namespace fettle

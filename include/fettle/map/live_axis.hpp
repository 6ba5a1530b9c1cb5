// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <concepts>
#include <cstddef>
#include <cstdint>

#include "fettle/map/axis.hpp"
#include "fettle/map/buckets.hpp"
#include "fettle/map/scalar.hpp"
#include "fettle/map/view.hpp"

namespace fettle {

/// A searchable copy of breakpoints that somebody else owns and edits while they are used.
///
/// Edits count from the next `refresh` on, and only sound ones: until then look-ups go on with the last sound
/// breakpoints. Nothing is allocated; whoever refreshes while others look up keeps them apart (two of these and a
/// pointer, or a lock).
///
/// Shape: up to Most breakpoints; before the first sound `refresh` an axis from 0 to 1.
template <coordinate T, std::size_t Most>
class live_axis {
  static_assert(Most >= 2, "fettle::live_axis needs room for at least two breakpoints");

 public:
  using value_type = T;

  constexpr live_axis() noexcept {
    const std::array<T, 2> unit{T{0}, T{1}};
    (void)refresh(unit.data(), 2);
  }

  /// Takes the breakpoints as they are now.
  ///
  /// @return what is wrong with them and where; with a fault nothing has changed. More than Most is `too_many`.
  constexpr axis_check refresh(const T* points, std::size_t size) noexcept {
    if (size > Most) return {axis_fault::too_many, Most};
    std::array<T, Most> taken{};  // checked as taken: the owner may go on editing
    for (std::size_t i = 0; i < size; ++i) taken[i] = points[i];
    const axis_check check = check_axis(taken.data(), size);
    if (check.fault != axis_fault::none) return check;
    points_ = taken;
    size_ = size;
    for (std::size_t i = size; i < Most; ++i) points_[i] = points_[size - 1];  // no hint of a longer axis matches there
    const auto made = detail::make_buckets(points_.data(), size, first_cell_.data(), inverse_widths_.data());
    scale_ = made.scale;
    window_ = static_cast<std::uint16_t>(made.window);
    return check;
  }

  [[nodiscard]] constexpr std::size_t size() const noexcept { return size_; }

  /// What algorithms see; good until the next `refresh`. A hint from before may be kept.
  [[nodiscard]] constexpr axis_view<T> view() const noexcept {
    if (window_ == 0) return {points_.data(), size_};
    return {points_.data(),
            size_,
            {first_cell_.data(), inverse_widths_.data(), points_[0], points_[size_ - 1], scale_, window_}};
  }

 private:
  std::array<T, Most> points_{};
  std::array<T, std::floating_point<T> ? Most : 0> inverse_widths_{};
  std::array<std::uint16_t, detail::bucket_count(Most)> first_cell_{};
  std::size_t size_ = 0;
  T scale_{};
  std::uint16_t window_ = 0;
};

}  // namespace fettle

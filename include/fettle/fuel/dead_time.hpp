// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>
#include <cstddef>
#include <cstdint>
#include <limits>

#include "fettle/map/interpolate.hpp"

namespace fettle {

/// The dead time of an injector in ms: one number, a curve over battery voltage, or a map over battery voltage and
/// pressure drop in kPa. The cells and axes of curve and map belong to the caller.
///
/// Errors: left out, or made of a map without cells or axes, it is NaN: the injector is then unusable and says so.
template <std::floating_point T>
class dead_time {
 public:
  constexpr dead_time() noexcept = default;
  // NOLINTBEGIN(google-explicit-constructor): `.dead_time_ms = 0.9F` and `.dead_time_ms = map.view()` say all there is
  constexpr dead_time(T number_ms) noexcept : number_ms_{number_ms} {}
  constexpr dead_time(const map_view<1, T>& curve) noexcept : rank_{rank_of(curve)} {
    map_.axes[0] = curve.axes[0];
    map_.values = curve.values;
  }
  constexpr dead_time(const map_view<2, T>& map) noexcept : map_{map}, rank_{rank_of(map)} {}
  // NOLINTEND(google-explicit-constructor)

  /// Outside: each axis holds its end, see `is_within`.
  [[nodiscard]] constexpr T at(T battery_v, T drop_kpa) const noexcept {
    if (rank_ == 2) return interpolate(map_, battery_v, drop_kpa);
    if (rank_ == 1) return interpolate(map_view<1, T>{.axes = {map_.axes[0]}, .values = map_.values}, battery_v);
    return number_ms_;
  }

  /// Whether its axes reach to this supply; a number holds everywhere.
  [[nodiscard]] constexpr bool is_within(T battery_v, T drop_kpa) const noexcept {
    return (rank_ < 1 || is_on(map_.axes[0], battery_v)) && (rank_ < 2 || is_on(map_.axes[1], drop_kpa));
  }

 private:
  [[nodiscard]] static constexpr bool is_on(const axis_view<T>& axis, T x) noexcept {
    return x >= axis.points[0] && x <= axis.points[axis.size - 1];
  }
  template <std::size_t R>
  [[nodiscard]] static constexpr std::uint8_t rank_of(const map_view<R, T>& map) noexcept {
    bool is_whole = map.values != nullptr;
    for (const auto& axis : map.axes) is_whole = is_whole && axis.points != nullptr && axis.size >= 2;
    return is_whole ? R : 0;
  }

  map_view<2, T> map_{};
  T number_ms_ = std::numeric_limits<T>::quiet_NaN();
  std::uint8_t rank_ = 0;
};

}  // namespace fettle

// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>

#include "fettle/map/interpolate.hpp"
#include "fettle/map/scalar.hpp"

namespace fettle {

/// How far x has come from `from` to `to`: 0 before, 1 after, a straight line between.
///
/// Errors: NaN gives NaN. `from` must be below `to`; where it is not, the ramp is a step at `from`.
template <std::floating_point T>
[[nodiscard]] constexpr T ramp(T x, T from, T to) noexcept {
  if (x <= from) return T{0};
  if (x >= to) return T{1};
  return (x - from) / (to - from);
}

/// A ramp without kinks at its ends: t^2 (3 - 2t), slope 0 at both.
///
/// Source: cubic Hermite step as `smoothstep` in the OpenGL Shading Language.
template <std::floating_point T>
[[nodiscard]] constexpr T smooth_ramp(T x, T from, T to) noexcept {
  const T t = ramp(x, from, to);
  return t * t * (T{3} - T{2} * t);
}

/// A ramp without jumps of curvature either: 6t^5 - 15t^4 + 10t^3, slope and curvature 0 at both ends.
template <std::floating_point T>
[[nodiscard]] constexpr T quintic_ramp(T x, T from, T to) noexcept {
  const auto rise = [](T t) { return t * t * t * (t * (T{6} * t - T{15}) + T{10}); };
  const T t = ramp(x, from, to);
  return t > T{0.5} ? T{1} - rise(T{1} - t) : rise(t);  // its upper half turned round: near 1 `rise` rounds beyond 1
}

/// Two values blended by a share: `first` at 0, `second` at 1, exactly; a value of no share does not count.
///
/// The values are what two maps of any axes gave; the share is a number, or what a curve or a third map gave:
/// `crossfade(interpolate(alpha_n, rpm, throttle), interpolate(speed_density, rpm, kpa), interpolate(share,
/// throttle))`.
///
/// Outside: the share is held between 0 and 1.
/// Errors:  a share that is NaN gives NaN.
template <std::floating_point T, affine_over<T> V>
[[nodiscard]] constexpr V crossfade(const V& first, const V& second, T share) noexcept {
  if (share <= T{0}) return first;
  if (share >= T{1}) return second;
  return detail::along(first, second, share);
}

}  // namespace fettle

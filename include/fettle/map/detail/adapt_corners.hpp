// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <concepts>
#include <cstddef>
#include <limits>
#include <utility>

#include "fettle/map/adapt_settings.hpp"
#include "fettle/map/stencil.hpp"

namespace fettle::detail {

/// 1 / sqrt(f), by Newton's method, which constant evaluation can follow.
template <std::floating_point T>
[[nodiscard]] constexpr T inverse_root(T f) noexcept {
  T y{1};
  for (int i = 0; i < 60 && f < T{1}; ++i) {
    const T next = y * (T{1.5} - T{0.5} * f * y * y);
    if (!(next > y)) break;  // rises to the root from below, for 0 < f < 1
    y = next;
  }
  return y;
}

template <std::floating_point T>
[[nodiscard]] constexpr bool is_finite(T x) noexcept {
  return x >= std::numeric_limits<T>::lowest() && x <= (std::numeric_limits<T>::max)();
}

/// Calls use(k) for every corner of a stencil, written out: a loop would keep its arrays in memory.
template <std::size_t Size, class Use>
constexpr void for_each_corner(Use&& use) noexcept {
  [&]<std::size_t... K>(std::index_sequence<K...>) {
    (use(K), ...);
  }
  (std::make_index_sequence<Size>{});
}

template <std::size_t R, std::floating_point T>
[[nodiscard]] constexpr T predicted(const T* values, const stencil<R, T>& at) noexcept {
  T sum{0};
  for_each_corner<stencil<R, T>::size>([&](std::size_t k) {
    if (at.weight[k] != T{0}) sum += at.weight[k] * values[at.cell[k]];
  });
  return sum;
}

/// One step of learning on the corners of a stencil, with a variance per cell.
///
/// @param residual  finite.
/// @param learns    learns(cell): whether this cell may change.
/// @param move      move(cell, step): changes it, and says whether its variance shall follow.
template <std::size_t R, std::floating_point T, class Learns, class Move>
constexpr void adapt_corners(T* variances, const stencil<R, T>& at, T residual, const adapt_settings<T>& how,
                             Learns&& learns, Move&& move) noexcept {
  constexpr std::size_t size = stencil<R, T>::size;
  const T fading = T{1} / how.forgetting - T{1};
  std::array<T, size> gain{}, own{}, before{};
  T sum = how.noise_variance;
  for_each_corner<size>([&](std::size_t k) {
    before[k] = sum;
    const T weight = at.weight[k];
    if (weight == T{0} || !learns(at.cell[k])) return;
    T& p = variances[at.cell[k]];
    const T grown = p + (p * fading + how.drift_variance) * weight;
    if (grown <= how.variance_cap) {
      p = grown;
    } else if (p < how.variance_cap) {
      p = how.variance_cap;
    } else if (!(p <= (std::numeric_limits<T>::max)())) {  // looked at here, as the usual step has no time for it
      p = (std::numeric_limits<T>::max)();
    }
    gain[k] = p * weight;
    own[k] = gain[k] * weight;
    sum += own[k];
  });
  const T inverse = T{1} / sum, scaled = inverse * residual;
  T behind{0};
  for_each_corner<size>([&](std::size_t reversed) {
    const std::size_t k = size - 1 - reversed, cell = at.cell[k];
    if (at.weight[k] == T{0} || !learns(cell)) return;
    // What the other corners and the noise contribute, added up: nothing is subtracted, so no variance reaches 0.
    const T kept = (before[k] + behind) * inverse;
    if (move(cell, gain[k] * scaled)) variances[cell] *= kept < T{1} ? kept : T{1};
    behind += own[k];
  });
}

}  // namespace fettle::detail

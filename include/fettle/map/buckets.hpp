// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>
#include <cstddef>
#include <cstdint>
#include <limits>

#include "fettle/map/scalar.hpp"
#include "fettle/map/view.hpp"

namespace fettle::detail {

/// Buckets for an axis: four per cell leave one comparison to the search on all but very uneven axes. An axis too long
/// for 16-bit cell numbers gets none and is bisected.
[[nodiscard]] constexpr std::size_t bucket_count(std::size_t points) noexcept {
  return points < 2 || points > 65536 ? 0 : 4 * (points - 1);
}

/// The bucket of a coordinate that is held within the axis and not NaN. Construction and search both call this, and it
/// is monotone in x under any rounding, so the cell of x is always among those its bucket names.
template <coordinate T>
[[nodiscard]] constexpr std::size_t bucket_of(T x, T first, T scale) noexcept {
  if constexpr (std::floating_point<T>) {
    return static_cast<std::size_t>(static_cast<std::ptrdiff_t>((x - first) * scale));
  } else {
    return (static_cast<std::uint32_t>(x) - static_cast<std::uint32_t>(first)) >> static_cast<unsigned>(scale);
  }
}

template <coordinate T>
[[nodiscard]] constexpr T bucket_scale(T first, T last, std::size_t buckets) noexcept {
  if constexpr (std::floating_point<T>) {
    return (static_cast<T>(buckets) - T{0.5}) / (last - first);  // the last point falls inside the last bucket
  } else {
    const std::uint32_t span = static_cast<std::uint32_t>(last) - static_cast<std::uint32_t>(first);
    unsigned shift = 0;
    while ((span >> shift) >= buckets) ++shift;
    return static_cast<T>(shift);
  }
}

/// The largest number below a finite one.
template <std::floating_point T>
[[nodiscard]] constexpr T predecessor(T x) noexcept {
  T step = (x < T{0} ? -x : x) * (std::numeric_limits<T>::epsilon() / T{4});  // too small to move x
  if (step == T{0}) step = std::numeric_limits<T>::denorm_min();
  while (!(x - step < x)) step *= T{2};
  return x - step;
}

/// 1 / width, so that every coordinate before `above` has a fraction below 1 however the products round.
/// Nothing but 0 when the width has no reciprocal of full precision.
template <std::floating_point T>
[[nodiscard]] constexpr T inverse_width(T below, T above) noexcept {
  using limits = std::numeric_limits<T>;
  const T width = above - below;
  if (!(width >= T{4} * (limits::min)() && width <= T{0.25} / (limits::min)())) return T{0};
  const T farthest = predecessor(above) - below;
  T inverse = T{1} / width;
  while (!(farthest * inverse < T{1})) inverse = predecessor(inverse);
  return inverse;
}

/// Makes the buckets of sound breakpoints in memory that the caller owns: `bucket_count(size)` cells and, on an axis of
/// floating-point numbers, `size` inverse widths. No buckets where cells are too narrow or too wide for a reciprocal.
template <coordinate T>
[[nodiscard]] constexpr bucket_view<T> make_buckets(const T* points, std::size_t size, std::uint16_t* first_cell,
                                                    T* inverse_widths) noexcept {
  const std::size_t buckets = bucket_count(size), cells = size - 1;
  if (buckets == 0) return {};
  if constexpr (std::floating_point<T>) {
    for (std::size_t i = 0; i < cells; ++i) {
      inverse_widths[i] = inverse_width(points[i], points[i + 1]);
      if (inverse_widths[i] == T{0}) return {};
    }
    inverse_widths[cells] = T{0};
  }
  const T first = points[0], last = points[cells], scale = bucket_scale(first, last, buckets);
  std::size_t window = 2;
  for (std::size_t bucket = 0, low = 0, high = 0; bucket < buckets; ++bucket) {
    while (low + 1 < cells && bucket_of(points[low + 1], first, scale) < bucket) ++low;
    while (high + 1 < size && bucket_of(points[high + 1], first, scale) <= bucket) ++high;
    first_cell[bucket] = static_cast<std::uint16_t>(low);
    window = high - low + 1 > window ? high - low + 1 : window;
  }
  for (std::size_t bucket = 0; bucket < buckets; ++bucket)  // every window must lie within the axis
    if (first_cell[bucket] + window > size) first_cell[bucket] = static_cast<std::uint16_t>(size - window);
  return {first_cell, inverse_widths, first, last, scale, window};
}

}  // namespace fettle::detail

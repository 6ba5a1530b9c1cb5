// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <concepts>
#include <cstddef>
#include <cstdint>

#include "fettle/map/interpolate.hpp"
#include "fettle/map/place.hpp"
#include "fettle/map/view.hpp"

namespace fettle {
namespace detail {

/// Points are worked off in blocks that stay in the nearest cache, each step a plain loop that compilers vectorise.
inline constexpr std::size_t batch_block = 64;

/// What `search` finds, for a block of coordinates on one axis.
template <std::floating_point T>
struct found_block {
  std::array<std::uint32_t, batch_block> index;
  std::array<T, batch_block> fraction;
};

template <std::floating_point T>
constexpr void search_block(const axis_view<T>& axis, const T* x, std::size_t count, found_block<T>& out) noexcept {
  const auto& buckets = axis.buckets;
  if (buckets.first_cell == nullptr) {
    for (std::size_t i = 0; i < count; ++i) {
      const auto found = search(axis, x[i]);
      out.index[i] = static_cast<std::uint32_t>(found.index);
      out.fraction[i] = found.fraction;
    }
    return;
  }
  std::array<std::int32_t, batch_block> bucket{};
  const T first = buckets.first, last = buckets.last, scale = buckets.scale;
  for (std::size_t i = 0; i < count; ++i) {
    T at = x[i] > first ? x[i] : first;  // NaN to an end; it comes back with the fraction
    at = at < last ? at : last;
    bucket[i] = static_cast<std::int32_t>((at - first) * scale);
  }
  for (std::size_t i = 0; i < count; ++i) {
    const std::size_t from = buckets.first_cell[bucket[i]];
    out.index[i] = static_cast<std::uint32_t>(bisect(axis.points, from, buckets.window, hold(x[i], first, last)));
  }
  for (std::size_t i = 0; i < count; ++i)
    out.fraction[i] = (hold(x[i], first, last) - axis.points[out.index[i]]) * buckets.inverse_width[out.index[i]];
}

template <std::size_t R, std::floating_point T>
constexpr void multilinear_block(const map_view<R, T>& map, const std::array<found_block<T>, R>& at, std::size_t count,
                                 T* out) noexcept {
  const auto sizes = sizes_of(map.axes);
  for (std::size_t i = 0; i < count; ++i) {
    std::array<found<T>, R> point;
    for (std::size_t axis = 0; axis < R; ++axis) point[axis] = {at[axis].index[i], at[axis].fraction[i]};
    out[i] = multilinear(map.values, sizes, point);
  }
}

}  // namespace detail

/// Values of a map at a list of points, each the same as `interpolate` gives.
///
/// @param x      R columns of `count` coordinates, one column per axis.
/// @param count  how many points; 0 is allowed.
/// @param out    where the `count` values go; not one of the columns.
/// Outside:      each axis holds its end.
/// Errors:       NaN in gives NaN out.
/// Cost:         about half of as many single look-ups; a few kB of stack, no heap.
template <std::size_t R, std::floating_point T>
requires(R >= 1) constexpr void interpolate_list(const map_view<R, T>& map, const std::array<const T*, R>& x,
                                                 std::size_t count, T* out) noexcept {
  std::array<detail::found_block<T>, R> found;
  for (std::size_t from = 0; from < count; from += detail::batch_block) {
    const std::size_t block = count - from < detail::batch_block ? count - from : detail::batch_block;
    for (std::size_t axis = 0; axis < R; ++axis)
      detail::search_block(map.axes[axis], x[axis] + from, block, found[axis]);
    detail::multilinear_block(map, found, block, out + from);
  }
}

}  // namespace fettle

// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <concepts>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <type_traits>
#include <utility>

#include "fettle/map/interpolate.hpp"
#include "fettle/map/place.hpp"
#include "fettle/map/view.hpp"

namespace fettle {
namespace detail {

/// Points are worked off in blocks that stay in the nearest cache. The bucket of every coordinate is a plain loop of
/// fixed length, which compilers vectorise; what follows it has no branch, so that many points are under way at a time.
inline constexpr std::size_t batch_block = 64;

/// Coordinates clamped to an axis, and their buckets.
template <std::floating_point T>
struct clamped_block {
  std::array<T, batch_block> at;
  std::array<std::uint32_t, batch_block> bucket;
};

/// NaN stays NaN and goes to the first bucket. Several loops, because each is one that compilers vectorise at -O2 too.
///
/// @return  whether no coordinate is at or beyond the last breakpoint, so that all have an upper neighbour.
template <std::floating_point T>
constexpr bool hold_block(const bucket_view<T>& buckets, const T* x, clamped_block<T>& out) noexcept {
  const T first = buckets.first, last = buckets.last, scale = buckets.scale;
  using count = std::conditional_t<sizeof(T) == 4, std::uint32_t, std::uint64_t>;
  count beyond = 0;
  for (std::size_t i = 0; i < batch_block; ++i) out.at[i] = hold(x[i], first, last);
  for (std::size_t i = 0; i < batch_block; ++i) beyond += static_cast<count>(out.at[i] >= last);
  for (std::size_t i = 0; i < batch_block; ++i) {
    const T number = out.at[i] > first ? out.at[i] : first;  // unlike `hold`, this comparison turns NaN into an end
    out.bucket[i] = static_cast<std::uint32_t>(static_cast<std::int32_t>((number - first) * scale));
  }
  return beyond == 0;
}

/// Whether corners of no weight may be read like all others: every cell, and the difference of any two, is finite.
template <std::floating_point T>
[[nodiscard]] constexpr bool is_plain(const T* values, std::size_t size) noexcept {
  constexpr T most = (std::numeric_limits<T>::max)() / T{2};
  bool plain = true;
  for (std::size_t i = 0; i < size; ++i) plain = plain & (values[i] <= most) & (values[i] >= -most);
  return plain;
}

/// NaN has one neighbour, like a fraction of 0.
template <class T>
[[nodiscard]] constexpr neighbours<T, true> present_neighbours(const cell_point<T>& x, std::size_t stride) noexcept {
  return neighbours_at(x, static_cast<std::ptrdiff_t>(stride));
}

template <class T>
[[nodiscard]] constexpr neighbours<T, true> both_neighbours(const cell_point<T>& x, std::size_t stride) noexcept {
  return {static_cast<std::ptrdiff_t>(x.index * stride), static_cast<std::ptrdiff_t>(stride), x.fraction};
}

template <std::size_t R, std::floating_point T, std::size_t... A>
constexpr void interpolate_block(map_view<R, T> map, bool is_plain, const std::array<const T*, R>& x, std::size_t from,
                                 T* out, std::index_sequence<A...>) noexcept {
  std::array<clamped_block<T>, R> block;  // and the view is a copy: nothing that `out` might alias
  std::array<std::size_t, R> stride{};
  for (std::size_t axis = R, step = 1; axis-- > 0; step *= map.axes[axis].size) stride[axis] = step;
  ((is_plain = hold_block(map.axes[A].buckets, x[A] + from, block[A]) && is_plain), ...);
  if (is_plain) {
    for (std::size_t i = 0; i < batch_block; ++i)
      out[i] = multilinear(map.values,
                           both_neighbours(search_in(map.axes[A], block[A].bucket[i], block[A].at[i]), stride[A])...);
    return;
  }
  for (std::size_t i = 0; i < batch_block; ++i)
    out[i] = multilinear(map.values,
                         present_neighbours(search_in(map.axes[A], block[A].bucket[i], block[A].at[i]), stride[A])...);
}

/// One block of columns of a grid, for all combinations of the other axes' coordinates.
template <std::size_t R, std::floating_point T, std::size_t... A>
constexpr void interpolate_columns(map_view<R, T> map, const std::array<const T*, R>& x,
                                   const std::array<std::size_t, R>& count, std::size_t from, std::size_t columns,
                                   T* out, std::index_sequence<A...>) noexcept {
  std::array<neighbours<T, true>, batch_block> column;
  for (std::size_t i = 0; i < columns; ++i)
    column[i] = present_neighbours(search(map.axes[R - 1], x[R - 1][from + i]), 1);
  std::array<std::size_t, R> stride{}, at{};
  for (std::size_t axis = R, step = 1; axis-- > 0; step *= map.axes[axis].size) stride[axis] = step;
  const std::size_t rows = (count[A] * ... * std::size_t{1});
  for (std::size_t row = 0; row < rows; ++row) {
    const std::array<neighbours<T, true>, R> outer{present_neighbours(search(map.axes[A], x[A][at[A]]), stride[A])...,
                                                   neighbours<T, true>{}};
    T* const line = out + row * count[R - 1] + from;
    for (std::size_t i = 0; i < columns; ++i) line[i] = multilinear(map.values, outer[A]..., column[i]);
    for (std::size_t axis = R - 1; axis-- > 0;) {  // the next combination, the last of these axes fastest
      if (++at[axis] < count[axis]) break;
      at[axis] = 0;
    }
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
/// Cost:         about half of as many single look-ups where the compiler may use AVX, three quarters without; no heap,
///               a few kB of stack.
template <std::size_t R, std::floating_point T>
requires(R >= 1) constexpr void interpolate_list(const map_view<R, T>& map, const std::array<const T*, R>& x,
                                                 std::size_t count, T* out) noexcept {
  bool one_comparison = true;
  for (const auto& axis : map.axes) one_comparison = one_comparison && axis.buckets.window == 2;
  const std::size_t whole = one_comparison ? count - count % detail::batch_block : 0;
  std::size_t cells = 1;
  for (const auto& axis : map.axes) cells *= axis.size;
  const bool is_plain = count >= cells && detail::is_plain(map.values, cells);  // where looking at all of them pays
  for (std::size_t from = 0; from < whole; from += detail::batch_block)
    detail::interpolate_block(map, is_plain, x, from, out + from, std::make_index_sequence<R>{});
  for (std::size_t i = whole; i < count; ++i) {
    std::array<cell_point<T>, R> at{};
    for (std::size_t axis = 0; axis < R; ++axis) at[axis] = search(map.axes[axis], x[axis][i]);
    out[i] = detail::multilinear(map.values, detail::sizes_of(map.axes), at);
  }
}

/// Values of a map on a grid, at every combination of the coordinates given for each axis: row-major, last axis
/// fastest.
///
/// @param x      R rows of coordinates, one per axis, in any order.
/// @param count  how many for each axis; 0 is allowed.
/// @param out    where the product of `count` values goes; not one of the rows.
/// Outside:      each axis holds its end.
/// Errors:       NaN in gives NaN out, wherever that coordinate takes part.
/// Cost:         one search per row and column instead of per point; 2 kB of stack, no heap.
template <std::size_t R, std::floating_point T>
requires(R >= 1) constexpr void interpolate_grid(const map_view<R, T>& map, const std::array<const T*, R>& x,
                                                 const std::array<std::size_t, R>& count, T* out) noexcept {
  const std::size_t columns = count[R - 1];
  for (std::size_t from = 0; from < columns; from += detail::batch_block) {
    const std::size_t block = columns - from < detail::batch_block ? columns - from : detail::batch_block;
    detail::interpolate_columns(map, x, count, from, block, out, std::make_index_sequence<R - 1>{});
  }
}

}  // namespace fettle

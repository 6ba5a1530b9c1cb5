// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <concepts>
#include <cstddef>
#include <type_traits>

#include "fettle/map/place.hpp"
#include "fettle/map/scalar.hpp"
#include "fettle/map/view.hpp"

namespace fettle::detail {

/// The two neighbours along one axis: an offset into the values and the step from it to the other. Where there is but
/// one, at fraction 1 and at the last breakpoint, the step is 0. `Present`: at fraction 0 too, so that both count;
/// otherwise the fraction decides.
template <class T, bool Present>
struct neighbours {
  std::ptrdiff_t low;
  std::ptrdiff_t step;
  T fraction;
};

template <class T>
[[nodiscard]] constexpr neighbours<T, false> neighbours_of(const cell_point<T>& x, std::size_t size,
                                                           std::size_t stride) noexcept {
  return {static_cast<std::ptrdiff_t>(x.index * stride), x.index + 1 < size ? static_cast<std::ptrdiff_t>(stride) : 0,
          x.fraction};
}

/// In a cell for certain, so its upper breakpoint exists.
template <class T>
[[nodiscard]] constexpr neighbours<T, false> neighbours_of(const within<T>& x, std::size_t,
                                                           std::size_t stride) noexcept {
  return {static_cast<std::ptrdiff_t>(x.index * stride), static_cast<std::ptrdiff_t>(stride), x.fraction};
}

/// Neighbours that both count, at any step: nothing is read beyond the last breakpoint, whatever the size of the axis.
template <class T>
[[nodiscard]] constexpr neighbours<T, true> neighbours_at(const cell_point<T>& x, std::ptrdiff_t step) noexcept {
  return {static_cast<std::ptrdiff_t>(x.index) * step, x.fraction > T{0} ? step : 0, x.fraction};
}
/// A place may lie before its cell, when a line is continued: seen from the upper neighbour its fraction is positive.
template <class T>
[[nodiscard]] constexpr neighbours<T, true> neighbours_at(const place<T>& x, std::ptrdiff_t step) noexcept {
  const std::ptrdiff_t low = static_cast<std::ptrdiff_t>(x.index) * step;
  if (x.fraction < T{0}) return {low + step, -step, T{1} - x.fraction};
  if (x.fraction == T{1}) return {low + step, 0, x.fraction};
  return {low, x.fraction > T{0} ? step : 0, x.fraction};
}
template <class T>
[[nodiscard]] constexpr neighbours<T, true> neighbours_of(const place<T>& x, std::size_t, std::size_t stride) noexcept {
  return neighbours_at(x, static_cast<std::ptrdiff_t>(stride));
}

/// a + t (b - a). For 0 <= t < 1 it never leaves [a, b]: t < 1 keeps the rounded product at or below the predecessor of
/// the rounded difference, which is at most the true difference. Reckoned in the wider of the two types: in a narrower
/// one t might round to 1.
template <class V, class T>
[[nodiscard]] constexpr V along(const V& a, const V& b, const T& t) noexcept {
  if constexpr (std::floating_point<V>) {
    using wide = std::common_type_t<V, T>;
    const wide from = static_cast<wide>(a);
    return static_cast<V>(from + static_cast<wide>(t) * (static_cast<wide>(b) - from));
  } else {
    return t == T{0} ? a : static_cast<V>(a + t * (b - a));
  }
}

/// A cell as what a look-up gives: raw integers become numbers, all else is passed as it is.
template <class Result, class V>
[[nodiscard]] constexpr decltype(auto) value_of(const V& cell) noexcept {
  if constexpr (std::same_as<Result, V>) {
    return (cell);
  } else {
    return static_cast<Result>(cell);
  }
}

/// A corner of no weight does not count, whatever it holds: a number is read and dropped, which costs least; anything
/// larger is not read at all.
template <class V, class T, bool Present, class... Rest>
[[nodiscard]] constexpr interpolated_t<V, T> multilinear(const V* values, const neighbours<T, Present>& x,
                                                         const Rest&... rest) noexcept {
  using result = interpolated_t<V, T>;
  const bool both = Present || x.fraction > T{0};
  const V *const near = values + x.low, *const far = near + (both || std::is_arithmetic_v<V> ? x.step : 0);
  if constexpr (sizeof...(rest) == 0) {
    return along<result>(value_of<result>(*near), value_of<result>(both ? *far : *near), x.fraction);
  } else {
    const result low = multilinear(near, rest...), high = multilinear(far, rest...);
    return along<result>(low, both ? high : low, x.fraction);
  }
}

/// @param at  one per axis: `cell_point`, `within`, `place`.
template <std::size_t R, class At, class... V>
[[nodiscard]] constexpr auto multilinear_each(const std::array<std::size_t, R>& sizes, const std::array<At, R>& at,
                                              const V*... values) noexcept {
  if constexpr (R == 0) {
    return std::array{values[0]...};
  } else if constexpr (R == 1) {
    const auto x = neighbours_of(at[0], sizes[0], 1);
    return std::array{multilinear(values, x)...};
  } else if constexpr (R == 2) {
    const auto x = neighbours_of(at[0], sizes[0], sizes[1]), y = neighbours_of(at[1], sizes[1], 1);
    return std::array{multilinear(values, x, y)...};
  } else {
    static_assert(R == 3, "fettle::interpolate reads maps of rank 0 to 3");
    const auto x = neighbours_of(at[0], sizes[0], sizes[1] * sizes[2]), y = neighbours_of(at[1], sizes[1], sizes[2]),
               z = neighbours_of(at[2], sizes[2], 1);
    return std::array{multilinear(values, x, y, z)...};
  }
}

template <class V, std::size_t R, class At>
[[nodiscard]] constexpr auto multilinear(const V* values, const std::array<std::size_t, R>& sizes,
                                         const std::array<At, R>& at) noexcept {
  return multilinear_each(sizes, at, values)[0];
}

template <std::size_t R, class T>
[[nodiscard]] constexpr std::array<std::size_t, R> sizes_of(const std::array<axis_view<T>, R>& axes) noexcept {
  std::array<std::size_t, R> sizes{};
  for (std::size_t i = 0; i < R; ++i) sizes[i] = axes[i].size;
  return sizes;
}

/// The rare part of a hinted look-up, kept out of line: a controller has one copy of it, and the usual part stays small.
template <std::size_t R, std::floating_point T, class V>
[[nodiscard, gnu::noinline]] constexpr interpolated_t<V, T> interpolate_anew(const map_view<R, T, V>& map,
                                                                             const std::array<T, R>& x,
                                                                             std::array<place<T>, R>& last) noexcept {
  for (std::size_t i = 0; i < R; ++i) last[i] = locate(map.axes[i], x[i]);
  return multilinear(map.values, sizes_of(map.axes), last);
}

}  // namespace fettle::detail

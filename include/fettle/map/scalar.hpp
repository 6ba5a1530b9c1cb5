// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>
#include <cstddef>
#include <type_traits>

namespace fettle {

/// An integer as a controller stores it, of up to 32 bits.
template <class T>
concept raw_integer = std::integral<T> && !std::same_as<T, bool> && sizeof(T) <= 4;

/// What an axis may be made of: floating-point numbers, or raw integers.
template <class T>
concept coordinate = std::floating_point<T> || raw_integer<T>;

/// What a cell may hold: anything that can be moved along a straight line, a + t (b - a).
///
/// Numbers, complex numbers, fixed-size vectors (one value per cylinder), automatic-differentiation scalars. The result
/// may be an expression template: it is turned into a V at once. Raw integers are not: a point between two of them is
/// not an integer.
template <class V, class T>
concept affine_over = std::copyable<V> && !std::integral<V> && requires(const V& a, const V& b, const T& t) {
  static_cast<V>(b - a);
  static_cast<V>(a + t * (b - a));
};

/// What a cell of a map over coordinates T may hold: anything affine, or raw integers, which are read as T.
template <class V, class T>
concept cell_over = affine_over<V, T> || raw_integer<V>;

/// What a look-up in such cells gives: V itself, or for raw integers the coordinates' own type, in units of a cell.
template <class V, class T>
using interpolated_t = std::conditional_t<std::integral<V>, T, V>;

/// A look-up takes one coordinate for each axis of the map: no more, no fewer.
template <std::size_t R, class T, class... X>
concept one_coordinate_per_axis = sizeof...(X) == R && (std::convertible_to<X, T> && ...);

}  // namespace fettle

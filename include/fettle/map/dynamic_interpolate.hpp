// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>
#include <cstddef>
#include <span>
#include <type_traits>
#include <utility>

#include "fettle/map/dynamic_table.hpp"
#include "fettle/map/interpolate.hpp"

namespace fettle {

/// Multilinear value of a map whose rank is known only at run time: to the bit what `interpolate` of its view gives.
///
/// @param x  one coordinate per axis; more are not read.
/// Outside:  each axis holds its end.
/// Errors:   NaN in gives NaN out.
template <std::floating_point T>
[[nodiscard]] T interpolate(const dynamic_table<T>& map, std::type_identity_t<std::span<const T>> x) noexcept {
  return visit_rank(map, [&]<std::size_t R>(const map_view<R, T>& view) {
    return [&]<std::size_t... A>(std::index_sequence<A...>) {
      return interpolate(view, x[A]...);
    }
    (std::make_index_sequence<R>{});
  });
}

}  // namespace fettle

// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cstddef>

namespace fettle {

/// Breakpoints owned by somebody else: what every algorithm sees of an axis.
///
/// Shape: `size` >= 2 strictly increasing, finite values at `points`.
template <class T>
struct axis_view {
  const T* points = nullptr;
  std::size_t size = 0;
};

/// A map owned by somebody else: R axes and one value per crossing, row-major, the last axis fastest.
///
/// Algorithms take this view, so maps of any size, fixed or known only at run time, share their code.
template <std::size_t R, class T, class V = T>
struct map_view {
  std::array<axis_view<T>, R> axes{};
  const V* values = nullptr;
};

}  // namespace fettle

// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>

namespace fettle {

/// What makes the search O(1): the span of an axis cut into even buckets, each of which touches only a few cells.
template <class T>
struct bucket_view {
  const std::uint16_t* first_cell = nullptr;  ///< one per bucket; null, and all else empty: the search bisects the axis
  const T* inverse_width = nullptr;           ///< one per breakpoint, 0 at the last; integer axes have none
  T first{}, last{};                          ///< the ends of the axis
  T scale{};                                  ///< buckets per unit; on an integer axis, log2 of a bucket's width
  std::size_t window = 0;  ///< breakpoints at most that a search has to choose from; 0 without buckets
};

/// Breakpoints owned by somebody else: what every algorithm sees of an axis.
///
/// Shape: `size` >= 2 strictly increasing, finite values at `points`. Made by hand from these two it is searched by
///        bisection; the views of `axis`, `table` and their run-time siblings bring their buckets along.
template <class T>
struct axis_view {
  const T* points = nullptr;
  std::size_t size = 0;
  bucket_view<T> buckets{};
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

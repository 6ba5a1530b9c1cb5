// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <limits>

#include "fettle/map/view.hpp"

/// What a look-up is measured by: the formula itself, in long double, and the size of one rounding there.
struct exact_look_up {
  long double value = 0;
  long double ulp = 0;  ///< unit in the last place of the map's type, of the largest cell around the point

  template <class T, std::size_t R>
  exact_look_up(const fettle::map_view<R, T>& map, const std::array<T, R>& x) {
    std::array<std::size_t, R> cell{};
    std::array<long double, R> t{};
    for (std::size_t i = 0; i < R; ++i) {
      const T *const first = map.axes[i].points, *const last = first + map.axes[i].size - 1;
      const T at = std::clamp(x[i], *first, *last);
      const T* const above = std::upper_bound(first + 1, last, at);
      cell[i] = static_cast<std::size_t>(above - first) - 1;
      const auto low = static_cast<long double>(above[-1]), high = static_cast<long double>(*above);
      t[i] = (static_cast<long double>(at) - low) / (high - low);
    }
    T largest = 0;
    for (std::size_t corner = 0; corner < (std::size_t{1} << R); ++corner) {
      std::size_t at = 0;
      long double weight = 1;
      for (std::size_t i = 0; i < R; ++i) {
        const std::size_t upper = (corner >> i) & 1U;
        at = at * map.axes[i].size + cell[i] + upper;
        weight *= upper == 1 ? t[i] : 1 - t[i];
      }
      value += weight * static_cast<long double>(map.values[at]);
      largest = std::max(largest, std::abs(map.values[at]));
    }
    ulp = static_cast<long double>(std::nextafter(largest, std::numeric_limits<T>::infinity()) - largest);
  }
};

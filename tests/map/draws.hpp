// SPDX-License-Identifier: MIT
#pragma once

#include <rapidcheck.h>

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <vector>

#include "fettle/map/dynamic_table.hpp"

// What the property tests draw: axes of every temper, maps on them, and points where look-ups go wrong if they do.
namespace draws {

template <class T>
T real(T low, T high) {
  const auto step = *rc::gen::inRange(0, 1 << 20);
  return low + (high - low) * (static_cast<T>(step) / static_cast<T>(1 << 20));
}

/// Sound breakpoints: even, uneven, geometric, neighbours a rounding apart, denormal, as wide as T allows.
template <class T>
std::vector<T> breakpoints() {
  using limits = std::numeric_limits<T>;
  const auto size = static_cast<std::size_t>(*rc::gen::weightedOneOf<int>(
      {{1, rc::gen::just(2)}, {3, rc::gen::inRange(2, 20)}, {1, rc::gen::inRange(20, 300)}}));
  const auto temper = *rc::gen::inRange(0, 6);
  std::vector<T> points;
  T x = temper == 4 ? T{0} : real<T>(-1000, 1000), step = real<T>(T{0.125}, 1000);
  for (std::size_t i = 0; i < size; ++i) {
    points.push_back(x);
    if (temper == 0) x = points.front() + static_cast<T>(i + 1) * step;
    if (temper == 1) x += real<T>(T{0.0625}, 100);
    if (temper == 2) x += step, step *= T{1.25};
    if (temper == 3) x = real<T>(0, 1) < T{0.75} ? std::nextafter(x, limits::infinity()) : x + step;
    if (temper == 4) x += static_cast<T>(*rc::gen::inRange(1, 9)) * limits::denorm_min();
    if (temper == 5) x += step;
  }
  if (temper == 5) {  // stretched so that the difference of the ends is almost the largest number
    const T from = points.front(), span = points.back() - from;
    for (T& p : points) p = (((p - from) / span) - T{0.5}) * (limits::max() * T{0.9990234375});
  }
  std::sort(points.begin(), points.end());
  points.erase(std::unique(points.begin(), points.end()), points.end());
  RC_PRE(points.size() >= 2U);
  return points;
}

template <class T>
fettle::dynamic_axis<T> axis() {
  return *fettle::dynamic_axis<T>::from(breakpoints<T>());
}

/// A coordinate: inside, on a breakpoint, next to one, outside, infinite.
template <class T>
T coordinate(const fettle::dynamic_axis<T>& axis) {
  using limits = std::numeric_limits<T>;
  const auto& p = axis.points();
  const T node = p[*rc::gen::inRange<std::size_t>(0, p.size())];
  switch (*rc::gen::inRange(0, 8)) {
    case 0:
      return node;
    case 1:
      return std::nextafter(node, limits::infinity());
    case 2:
      return std::nextafter(node, -limits::infinity());
    case 3:
      return p.back();
    case 4:
      return *rc::gen::element(limits::infinity(), -limits::infinity(), limits::max(), limits::lowest());
    case 5:
      return p.front() - (p.back() / T{4} - p.front() / T{4});
    default: {
      const std::size_t cell = *rc::gen::inRange<std::size_t>(0, p.size() - 1);
      const T t = real<T>(0, 1);
      return p[cell] * (T{1} - t) + p[cell + 1] * t;
    }
  }
}

template <class T, std::size_t R>
fettle::dynamic_table<T> table() {
  std::vector<fettle::dynamic_axis<T>> axes;
  std::size_t count = 1;
  for (std::size_t i = 0; i < R; ++i) {
    auto points = breakpoints<T>();
    if (R > 1 && points.size() > 12) points.resize(12);
    axes.push_back(*fettle::dynamic_axis<T>::from(points));
    count *= points.size();
  }
  std::vector<T> values(count);
  const T scale = static_cast<T>(*rc::gen::element(1.0, 1e-30, 1e30));
  for (T& v : values) v = real<T>(-1000, 1000) * scale;
  return *fettle::dynamic_table<T>::from(std::move(axes), std::move(values));
}

}  // namespace draws

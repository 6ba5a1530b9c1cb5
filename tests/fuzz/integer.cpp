// SPDX-License-Identifier: MIT
// Integer cells on integer axes of 8, 16 and 32 bits, against exact arithmetic.
#include "fettle/map/integer.hpp"

#include <array>
#include <cmath>
#include <tuple>

#include "bytes.hpp"
#include "counted.hpp"
#include "fettle/map/linear_scaling.hpp"

namespace {

using fuzz::law, fuzz::look_ups;

template <class T, std::size_t N>
fettle::axis<T, N> axis_from(fuzz::bytes& in) {
  std::array<T, N> points;
  for (;;) {
    for (T& point : points) point = in.raw<T>();
    if (in.empty())  // no more to draw from
      for (std::size_t i = 0; i < N; ++i) points[i] = static_cast<T>(i * 3);
    std::sort(points.begin(), points.end());
    if (const auto made = fettle::axis<T, N>::from(points)) return *made;
  }
}

template <class T>
long double fraction_of(T below, T x, T above) {
  return (static_cast<long double>(x) - static_cast<long double>(below)) /
         (static_cast<long double>(above) - static_cast<long double>(below));
}

template <class T>
void check_place(fuzz::bytes& in, const fettle::axis_view<T>& axis, T x, const fettle::integer_place& at) {
  law(at.index + 1 < axis.size, "an index has a cell");
  law(at.fraction <= fettle::integer_one, "a fraction is at most 1");
  const T clamped = std::clamp(x, axis.points[0], axis.points[axis.size - 1]);
  law(axis.points[at.index] <= clamped && clamped <= axis.points[at.index + 1], "a coordinate is in its cell");
  const long double exact = 65536.0L * fraction_of(axis.points[at.index], clamped, axis.points[at.index + 1]);
  law(static_cast<long double>(at.fraction) == std::floor(exact), "a fraction is the floor of the exact one");
  const fettle::integer_place hint{in.below(axis.size - 1), 0};
  const auto hinted = fettle::locate(axis, x, hint);
  law(hinted.index == at.index && hinted.fraction == at.fraction, "a hint changes nothing");
}

/// The exact multilinear value, and the range of the corners.
template <class T, class V, std::size_t R>
struct exact_value {
  long double value = 0, low = std::numeric_limits<long double>::infinity(), high = -low;

  exact_value(const fettle::map_view<R, T, V>& map, const std::array<T, R>& x) {
    for (std::size_t k = 0; k < (std::size_t{1} << R); ++k) {
      long double weight = 1;
      std::size_t cell = 0;
      for (std::size_t i = 0; i < R; ++i) {
        const auto& axis = map.axes[i];
        const T clamped = std::clamp(x[i], axis.points[0], axis.points[axis.size - 1]);
        std::size_t index = 0;
        while (index + 2 < axis.size && axis.points[index + 1] <= clamped) ++index;
        const long double t = fraction_of(axis.points[index], clamped, axis.points[index + 1]);
        const bool upper = ((k >> i) & 1U) != 0;
        weight *= upper ? t : 1 - t;
        cell = cell * axis.size + index + (upper ? 1 : 0);
      }
      const auto corner = static_cast<long double>(map.values[cell]);
      value += weight * corner;
      if (weight == 0) continue;
      low = std::min(low, corner);
      high = std::max(high, corner);
    }
  }
};

template <class T, class V, std::size_t... N>
void check_map(fuzz::bytes& in) {
  constexpr std::size_t rank = sizeof...(N);
  const std::tuple axes{axis_from<T, N>(in)...};
  std::array<V, (N * ...)> values;
  for (V& value : values) value = in.raw<V>();
  const fettle::map_view<rank, T, V> map{
      .axes = std::apply([](const auto&... axis) { return std::array{axis.view()...}; }, axes),
      .values = values.data()};
  for (int point = 0; point < 8; ++point) {
    std::array<T, rank> x;
    std::array<std::int64_t, rank> wide;
    std::array<fettle::integer_place, rank> last{};
    for (std::size_t i = 0; i < rank; ++i) {
      x[i] = in.raw<T>();
      if (in.below(3) == 0) x[i] = map.axes[i].points[in.below(map.axes[i].size)];
      check_place(in, map.axes[i], x[i], fettle::locate(map.axes[i], x[i]));
      wide[i] = x[i];
      if (in.below(4) != 0) continue;
      wide[i] = in.raw<std::int64_t>();  // of another type, and often beyond this one
      x[i] = static_cast<T>(
          std::clamp<std::int64_t>(wide[i], std::numeric_limits<T>::min(), std::numeric_limits<T>::max()));
    }
    const V value = std::apply([&](auto... c) { return fettle::interpolate(map, c...); }, x);
    law(value == std::apply([&](auto... c) { return fettle::interpolate(map, c...); }, wide), "other types saturate");
    for (int twice = 0; twice < 2; ++twice)
      law(value == std::apply([&](auto... c) { return fettle::interpolate(map, last, c...); }, x),
          "hints change nothing");
    const exact_value<T, V, rank> exact(map, x);
    const auto got = static_cast<long double>(value);
    law(got >= exact.low && got <= exact.high, "a value is between its corners");
    const long double bound = sizeof(V) == 1 ? 1 : 1 + rank * (exact.high - exact.low) / 65536;
    law(std::abs(got - exact.value) <= bound, "a value is as near the exact one as promised");
    look_ups += 4;
  }
}

template <class T>
void check_computed_axes(fuzz::bytes& in) {
  const T first = in.raw<T>(), interval = in.raw<T>();
  const unsigned shift = in.raw<std::uint8_t>() % 40;
  const std::size_t size = in.raw<std::uint16_t>();
  const auto even = fettle::even_integer_axis<T>::from(first, interval, size);
  const auto shifted = fettle::shift_axis<T>::from(first, shift, size);
  for (int k = 0; k < 8; ++k) {
    const T x = in.raw<T>();
    const auto check = [&](const fettle::integer_place& at, std::int64_t step) {
      law(at.index + 1 < size && at.fraction <= fettle::integer_one, "a place is on the axis");
      const std::int64_t end = first + static_cast<std::int64_t>(size - 1) * step;
      const std::int64_t clamped = std::clamp<std::int64_t>(x, first, end);
      const std::int64_t part = clamped - first - static_cast<std::int64_t>(at.index) * step;
      law(part >= 0 && part <= step && std::int64_t{at.fraction} == (part << 16) / step, "a place is the exact one");
      ++look_ups;
    };
    if (even) check(even->locate(x), interval);
    if (shifted) check(shifted->locate(x), std::int64_t{1} << shift);
  }
}

template <class T, class Raw>
void check_scaling(fuzz::bytes& in) {
  const fettle::linear_scaling<T> scaling{in.number<T>(), in.number<T>()};
  const T value = in.number<T>();
  const auto raw = scaling.template raw<Raw>(value);
  law(!std::isnan(value) || !raw, "NaN is no raw value");
  const Raw stored = in.raw<Raw>();
  const fettle::linear_scaling<T> sound{T{0.25}, T{16}};
  if (sizeof(Raw) < 4) law(sound.template raw<Raw>(sound.physical(stored)) == stored, "a raw value is found again");
}

template <class T, class V>
void check(fuzz::bytes& in) {
  switch (in.below(5)) {
    case 0:
      return check_map<T, V, 2>(in);
    case 1:
      return check_map<T, V, 12>(in);
    case 2:
      return check_map<T, V, 5, 4>(in);
    case 3:
      return check_map<T, V, 3, 2, 4>(in);
    default:
      check_computed_axes<T>(in);
      check_scaling<float, V>(in);
      check_scaling<double, V>(in);
  }
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  constexpr std::array kinds{check<std::int8_t, std::int8_t>,    check<std::uint8_t, std::uint8_t>,
                             check<std::int16_t, std::uint16_t>, check<std::uint16_t, std::int16_t>,
                             check<std::int32_t, std::int32_t>,  check<std::uint32_t, std::uint32_t>};
  fuzz::bytes in(data, size);
  kinds[in.below(kinds.size())](in);
  return 0;
}

// SPDX-License-Identifier: MIT
// Axis search and look-up on numbers of every kind: axes, maps of rank 1 to 3, every rule at the edges, batches, hints.
#include <array>
#include <cmath>
#include <optional>
#include <tuple>

#include "bytes.hpp"
#include "counted.hpp"
#include "fettle/map.hpp"
#include "fettle/map/dynamic_table.hpp"

namespace {

using fuzz::law, fuzz::look_ups, fuzz::same;

/// The rule for breakpoints, said once more in other words.
template <class T>
bool sound(const std::vector<T>& points) {
  if (points.size() < 2) return false;
  for (std::size_t i = 0; i < points.size(); ++i) {
    if (!std::isfinite(points[i])) return false;
    if (i > 0 && points[i] <= points[i - 1]) return false;
  }
  return std::isfinite(points.back() - points.front());
}

/// Breakpoints as they come, or put in order so that most of them make an axis.
template <class T>
std::optional<fettle::dynamic_axis<T>> axis_from(fuzz::bytes& in, std::size_t longest) {
  std::vector<T> points(in.below(longest + 1));
  for (T& point : points) point = in.number<T>();
  if (in.below(8) != 0) {
    std::erase_if(points, [](T x) { return !std::isfinite(x); });
    std::sort(points.begin(), points.end());
    points.erase(std::unique(points.begin(), points.end()), points.end());
  }
  const auto check = fettle::check_axis(points.data(), points.size());
  auto made = fettle::dynamic_axis<T>::from(points);
  law((check.fault == fettle::axis_fault::none) == made.has_value(), "check_axis and from agree");
  law(made.has_value() == sound(points), "an axis is what the rule says");
  return made;
}

template <class T>
T coordinate_from(fuzz::bytes& in, const fettle::axis_view<T>& axis) {
  const T node = axis.points[in.below(axis.size)];
  switch (in.below(6)) {
    case 0:
      return node;
    case 1:
      return std::nextafter(node, std::numeric_limits<T>::infinity());
    case 2:
      return std::nextafter(node, -std::numeric_limits<T>::infinity());
    case 3: {
      const std::size_t cell = in.below(axis.size - 1);
      const T t = static_cast<T>(in.raw<std::uint16_t>()) / T{65536};
      return axis.points[cell] * (T{1} - t) + axis.points[cell + 1] * t;
    }
    default:
      return in.number<T>();
  }
}

template <class T>
void check_place(fuzz::bytes& in, const fettle::axis_view<T>& axis, T x, const fettle::place<T>& at) {
  const std::size_t last = axis.size - 1;
  law(at.index < last, "an index has a cell");
  if (std::isnan(x)) {
    law(std::isnan(at.fraction), "NaN in, NaN out");
  } else if (x <= axis.points[0]) {
    law(at.index == 0 && at.fraction == 0, "below, the axis holds its end");
  } else if (x >= axis.points[last]) {
    law(at.index + 1 == last && at.fraction == 1, "above, the axis holds its end");
  } else {
    law(axis.points[at.index] <= x && x < axis.points[at.index + 1], "a coordinate is in its cell");
    law(at.fraction >= 0 && at.fraction < 1, "a fraction is from 0 to below 1");
    law(x != axis.points[at.index] || at.fraction == 0, "a breakpoint is exact");
  }
  const fettle::place<T> hint{in.below(last), T{0}};
  const auto hinted = fettle::locate(axis, x, hint);
  law(hinted.index == at.index && same(hinted.fraction, at.fraction), "a hint changes nothing");
  const auto bisected = fettle::locate(fettle::axis_view<T>{axis.points, axis.size}, x);
  law(bisected.index == at.index, "bisection finds the same cell");
  law(std::isnan(x) || std::abs(bisected.fraction - at.fraction) <= 4 * std::numeric_limits<T>::epsilon(),
      "bisection finds the same fraction");
}

template <class T>
fettle::edges rule_from(fuzz::bytes& in) {
  return {static_cast<fettle::outside>(in.below(3)), static_cast<fettle::outside>(in.below(3))};
}

template <class T, std::size_t R>
struct corner_range {
  T low = std::numeric_limits<T>::infinity(), high = -low;
  corner_range(const fettle::map_view<R, T>& map, const std::array<fettle::place<T>, R>& at) {
    const auto corners = fettle::stencil_at(map.axes, at);
    for (std::size_t k = 0; k < corners.size; ++k) {
      bool counts = true;  // by the fractions: a product of weights may vanish
      for (std::size_t axis = 0; axis < R; ++axis) {
        const bool upper = ((k >> (R - 1 - axis)) & 1U) != 0;
        counts = counts && (upper ? at[axis].fraction > 0 : at[axis].fraction < 1);
      }
      if (!counts) continue;
      low = std::min(low, map.values[corners.cell[k]]);
      high = std::max(high, map.values[corners.cell[k]]);
    }
  }
  [[nodiscard]] bool holds(T value) const { return value >= low && value <= high; }
};

template <class T, std::size_t R>
void check_point(fuzz::bytes& in, const fettle::map_view<R, T>& map, const std::array<T, R>& x, bool is_constant) {
  std::array<fettle::place<T>, R> at{}, hint{};
  std::array<fettle::edges, R> rules{};
  bool is_nan = false, is_node = true, is_inside = true, is_refused = false, is_held = true;
  std::size_t cell = 0;
  for (std::size_t i = 0; i < R; ++i) {
    const auto& axis = map.axes[i];
    at[i] = fettle::locate(axis, x[i]);
    check_place(in, axis, x[i], at[i]);
    hint[i].index = in.below(axis.size - 1);
    rules[i] = rule_from<T>(in);
    is_nan = is_nan || std::isnan(x[i]);
    is_node = is_node && (at[i].fraction == 0 || at[i].fraction == 1);
    cell = cell * axis.size + at[i].index + (at[i].fraction == 1 ? 1 : 0);
    const bool below = x[i]<axis.points[0], above = x[i]> axis.points[axis.size - 1];
    is_inside = is_inside && !below && !above;
    const auto rule = below ? rules[i].below : rules[i].above;
    is_refused = is_refused || ((below || above) && rule == fettle::outside::refuse);
    is_held = is_held && (!(below || above) || rule == fettle::outside::hold || std::isinf(x[i]));
  }
  const auto each = [&](auto&& call) { return std::apply(call, x); };
  const T value = each([&](auto... c) { return fettle::interpolate(map, c...); });
  law(std::isnan(value) == is_nan, "NaN in, NaN out, and only then");
  law(same(value, fettle::interpolate(map, at)), "places found before give the same value");
  for (int twice = 0; twice < 2; ++twice)
    law(same(value, each([&](auto... c) { return fettle::interpolate(map, hint, c...); })), "a hint changes no value");
  const auto reading = each([&](auto... c) { return fettle::read(map, rules, c...); });
  law(reading.inside() == (is_inside && !is_nan), "a reading says where it is");
  law(!(is_nan || is_refused) || std::isnan(reading.value), "a refused coordinate gives NaN");
  law(is_refused || !is_held || same(reading.value, value), "held and inside, a reading is the value");
  const auto sloped = each([&](auto... c) { return fettle::interpolate_with_slopes(map, c...); });
  law(same(sloped.value, value), "slopes come with the same value");
  look_ups += 6;
  if (is_nan) return;

  law(corner_range<T, R>(map, at).holds(value), "a value is between its corners");
  law(!is_node || value == map.values[cell], "a breakpoint gives its cell");
  law(!is_constant || value == map.values[0], "a constant map is constant");
  law(!is_constant || is_refused || reading.value == map.values[0], "a constant map is constant outside too");
  const T near = each([&](auto... c) { return fettle::nearest(map, c...); });
  const T low = each([&](auto... c) { return fettle::at_or_below(map, c...); });
  law(corner_range<T, R>(map, at).holds(near) && corner_range<T, R>(map, at).holds(low),
      "a cell is one of the corners");
  look_ups += 2;
  if constexpr (R == 1) {
    const auto& points = map.axes[0].points;
    std::size_t seen = 0;
    T before = -std::numeric_limits<T>::infinity();
    const auto solutions = fettle::solve(map, value, [&](T from, T to) {
      law(from <= to && from >= points[0] && to <= points[map.axes[0].size - 1] && from >= before, "solutions ascend");
      before = to;
      ++seen;
    });
    law(solutions == seen && solutions >= 1 && solutions <= map.axes[0].size, "a value that was read is found again");
    look_ups += map.axes[0].size;
  }
}

template <class T, std::size_t R>
void check_map(fuzz::bytes& in) {
  std::vector<fettle::dynamic_axis<T>> axes;
  std::size_t count = 1;
  for (std::size_t i = 0; i < R; ++i) {
    auto made = axis_from<T>(in, R == 1 ? 24 : 6);
    if (!made) return;
    count *= made->size();
    axes.push_back(std::move(*made));
  }
  const bool is_constant = in.below(8) == 0;
  std::vector<T> values(count);
  for (T& value : values) value = in.tame_number<T>();
  if (is_constant) std::fill(values.begin(), values.end(), values[0]);
  const auto table = *fettle::dynamic_table<T>::from(std::move(axes), std::move(values));
  const auto map = table.template view<R>();

  constexpr std::size_t points = 8, rows = 8 * points + 3;  // a whole block of a batch, and some more
  std::array<std::vector<T>, R> columns;
  for (auto& column : columns) column.resize(rows);
  for (std::size_t row = 0; row < points; ++row) {
    std::array<T, R> x;
    for (std::size_t i = 0; i < R; ++i) {
      x[i] = coordinate_from(in, map.axes[i]);
      for (std::size_t k = row; k < rows; k += points) columns[i][k] = x[i];
    }
    check_point<T, R>(in, map, x, is_constant);
  }
  std::array<const T*, R> x;
  for (std::size_t i = 0; i < R; ++i) x[i] = columns[i].data();
  std::vector<T> out(rows);
  fettle::interpolate_list(map, x, rows, out.data());
  std::array<std::size_t, R> few{};
  few.fill(2);
  std::vector<T> grid(std::size_t{1} << R);
  fettle::interpolate_grid(map, x, few, grid.data());
  for (std::size_t row = 0; row < rows; ++row) {
    std::array<T, R> point;
    for (std::size_t i = 0; i < R; ++i) point[i] = columns[i][row];
    law(same(out[row], std::apply([&](auto... c) { return fettle::interpolate(map, c...); }, point)),
        "a list gives what single look-ups give");
  }
  for (std::size_t k = 0; k < grid.size(); ++k) {
    std::array<T, R> point;
    for (std::size_t i = 0; i < R; ++i) point[i] = columns[i][(k >> (R - 1 - i)) & 1U];
    law(same(grid[k], std::apply([&](auto... c) { return fettle::interpolate(map, c...); }, point)),
        "a grid gives what single look-ups give");
  }
  look_ups += 2 * rows + 2 * grid.size();
}

template <class T>
void check_even_axis(fuzz::bytes& in) {
  const T first = in.number<T>(), interval = in.number<T>();
  const std::size_t size = in.raw<std::uint16_t>();
  const auto made = in.below(2) == 0 ? fettle::even_axis<T>::from(first, interval, size)
                                     : fettle::even_axis<T>::from_shift(first, in.raw<std::int8_t>(), size);
  if (!made) return;
  for (int k = 0; k < 8; ++k) {
    T x = in.number<T>();
    if (in.below(2) == 0) x = made->point(in.raw<std::uint16_t>() % made->size());
    const auto at = fettle::locate(*made, x);
    law(at.index + 1 < made->size(), "an index has a cell");
    ++look_ups;
    if (std::isnan(x)) {
      law(std::isnan(at.fraction), "NaN in, NaN out");
    } else if (x <= made->point(0)) {
      law(at.index == 0 && at.fraction == 0, "below, the axis holds its end");
    } else if (x >= made->point(made->size() - 1)) {
      law(at.index + 2 == made->size() && at.fraction == 1, "above, the axis holds its end");
    } else {
      law(made->point(at.index) <= x && x < made->point(at.index + 1), "a coordinate is in its cell");
      law(at.fraction >= 0 && at.fraction < 1, "a fraction is from 0 to below 1");
    }
  }
}

template <class T>
void check(fuzz::bytes& in) {
  switch (in.below(4)) {
    case 0:
      return check_map<T, 1>(in);
    case 1:
      return check_map<T, 2>(in);
    case 2:
      return check_map<T, 3>(in);
    default:
      return check_even_axis<T>(in);
  }
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  fuzz::bytes in(data, size);
  in.below(2) == 0 ? check<double>(in) : check<float>(in);
  return 0;
}

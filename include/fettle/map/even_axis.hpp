// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <optional>

#include "fettle/map/axis.hpp"
#include "fettle/map/buckets.hpp"
#include "fettle/map/place.hpp"

namespace fettle {

/// Evenly spaced breakpoints that are computed, not stored: first, first + interval, first + 2 interval, ...
///
/// In calibration data this is a FIX_AXIS given by offset and distance, or by offset and shift (ASAM MCD-2 MC). It
/// finds places for `cells`, which bring no axes of their own.
///
/// Unit:   the input's own.
/// Shape:  2 to 4 million (double: 2^51) breakpoints in eight words.
/// Errors: a literal that breaks the rule does not compile; run-time data goes through `from()`, `check` names the
///         fault. An interval of less than about two units in the last place of an end is `not_increasing`: rounding
///         could make breakpoints repeat.
template <std::floating_point T>
class even_axis {
 public:
  consteval even_axis(T first, T interval, std::size_t size) : even_axis{unchecked{}, first, interval, size} {
    if (check(first, interval, size) != axis_fault::none) breakpoints_must_be_finite_and_strictly_increasing();
  }

  [[nodiscard]] static constexpr axis_fault check(T first, T interval, std::size_t size) noexcept {
    constexpr T most = (std::numeric_limits<T>::max)() / T{4};  // no sum of two such numbers overflows
    if (size < 2) return axis_fault::too_few;
    if (!(first >= -most && first <= most && interval <= most)) return axis_fault::not_finite;
    if (!(interval >= T{4} * (std::numeric_limits<T>::min)())) return axis_fault::not_increasing;
    const T cells = static_cast<T>(size - 1);
    if (interval > most / cells) return axis_fault::too_wide;
    const T last = first + cells * interval;
    // With so few cells the rounding of i interval takes less than half of an interval from between two breakpoints.
    // What is left still tells them apart where a quarter of it counts at both ends, where numbers are coarsest.
    constexpr T most_cells = T{0.5} / std::numeric_limits<T>::epsilon();
    if (!(cells <= most_cells && first < first + interval / T{4} && last - interval / T{4} < last))
      return axis_fault::not_increasing;
    return axis_fault::none;
  }

  [[nodiscard]] static constexpr std::optional<even_axis> from(T first, T interval, std::size_t size) noexcept {
    if (check(first, interval, size) != axis_fault::none) return std::nullopt;
    return even_axis{unchecked{}, first, interval, size};
  }

  /// The axis whose interval is 2^shift.
  [[nodiscard]] static constexpr std::optional<even_axis> from_shift(T first, int shift, std::size_t size) noexcept {
    T interval{1};
    for (; shift > 0 && interval <= (std::numeric_limits<T>::max)() / T{4}; --shift) interval *= T{2};
    for (; shift < 0 && interval > T{0}; ++shift) interval /= T{2};
    return from(first, interval, size);
  }

  [[nodiscard]] constexpr std::size_t size() const noexcept { return size_; }
  [[nodiscard]] constexpr T point(std::size_t i) const noexcept { return first_ + static_cast<T>(i) * interval_; }

  /// The cell of a coordinate, for a look-up at once: exact on the breakpoints as `point` gives them.
  ///
  /// Outside: the axis holds its end.
  /// Errors:  NaN gives a NaN fraction in the first cell.
  /// Cost:    three multiplications, no search, no branch on the cell.
  /// Rounding: a coordinate that is closer below a breakpoint than the index can tell, some units in the last place of
  ///          the number of cells passed (float: 3e-6 of a cell at the 16th), is read as on it. Axes so long or so fine
  ///          that this could reach a thousandth of a cell compare with the breakpoints beside it instead, which costs
  ///          twice as much.
  [[nodiscard]] constexpr cell_point<T> search(T x) const noexcept {
    if (!(x >= above_) || !(x < below_)) [[unlikely]]
      return search_apart(x);
    const auto index = static_cast<std::uint32_t>(static_cast<std::int32_t>((x - first_) * cells_per_unit_));
    const T t = (x - (first_ + static_cast<T>(static_cast<std::int32_t>(index)) * interval_)) * per_unit_;
    return {index, t > T{0} ? t : T{0}};
  }

  /// The place of a coordinate, to keep or to use for several maps.
  [[nodiscard]] constexpr place<T> locate(T x) const noexcept { return detail::place_of(search(x), size_); }

 private:
  struct unchecked {};
  constexpr even_axis(unchecked, T first, T interval, std::size_t size) noexcept
      : first_{first}, interval_{interval}, cells_per_unit_{T{1} / interval}, per_unit_{T{1} / interval}, size_{size} {
    if (check(first, interval, size) == axis_fault::none && settle_factors()) {
      above_ = first;
      below_ = point(size - 1);
    }
  }
  static void breakpoints_must_be_finite_and_strictly_increasing();  // not constexpr: its name is the message

  /// Makes `cells_per_unit_` so large that no breakpoint rounds to the cell below it, and `per_unit_` so small that no
  /// fraction reaches 1.
  ///
  /// @return  whether both stay within a thousandth of a cell of 1 / interval at the end of the axis.
  [[nodiscard]] constexpr bool settle_factors() noexcept {
    if (size_ > longest_settled) return false;
    const T inverse = T{1} / interval_, most_off = inverse / (T{1000} * static_cast<T>(size_));
    T step = inverse * std::numeric_limits<T>::epsilon();
    const auto is_settled = [&](T factor) {
      step *= T{2};  // so that a long way takes few steps
      return factor - inverse <= most_off && inverse - factor <= most_off;
    };
    for (std::size_t i = 1; i < size_; ++i) {
      const T here = point(i);
      while ((here - first_) * cells_per_unit_ < static_cast<T>(i))
        if (!is_settled(cells_per_unit_ += step)) return false;
      while (!((detail::predecessor(here) - point(i - 1)) * per_unit_ < T{1}))
        if (!is_settled(per_unit_ -= step)) return false;
    }
    return true;
  }

  /// Outside, NaN, and axes without settled factors.
  [[nodiscard, gnu::noinline, gnu::cold]] constexpr cell_point<T> search_apart(T x) const noexcept {
    if (!(x == x)) return {0, x};
    if (x <= first_) return {0, T{0}};
    if (x >= point(size_ - 1)) return {size_ - 1, T{0}};
    auto index = static_cast<std::size_t>(static_cast<std::ptrdiff_t>((x - first_) * cells_per_unit_));
    if (index > size_ - 2) index = size_ - 2;
    if (x < point(index)) --index;  // rounding may have gone one cell too far, or not far enough
    if (x >= point(index + 1)) ++index;
    constexpr T most = T{1} - std::numeric_limits<T>::epsilon() / T{2};
    const T t = (x - point(index)) / interval_;
    return {index, most < t ? most : t};
  }

  static constexpr std::size_t longest_settled = 1024;

  T first_, interval_, cells_per_unit_, per_unit_;
  T above_ = (std::numeric_limits<T>::max)(),
    below_ = std::numeric_limits<T>::lowest();  ///< the quick way between these
  std::size_t size_;
};

template <std::floating_point T>
[[nodiscard]] constexpr cell_point<T> search(const even_axis<T>& axis, T x) noexcept {
  return axis.search(x);
}

template <std::floating_point T>
[[nodiscard]] constexpr place<T> locate(const even_axis<T>& axis, T x) noexcept {
  return axis.locate(x);
}

}  // namespace fettle

// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <optional>

#include "fettle/map/adapt_settings.hpp"
#include "fettle/map/detail/adapt_corners.hpp"
#include "fettle/map/linear_scaling.hpp"
#include "fettle/map/scalar.hpp"
#include "fettle/map/stencil.hpp"

namespace fettle {

/// Raw integer cells that learn, within bounds. All memory is the caller's.
template <std::floating_point T, raw_integer V>
struct learning_cells {
  V* cells = nullptr;                 ///< changed in place
  std::int16_t* remainder = nullptr;  ///< one per cell, 0 at first: what rounding keeps from it, in 2^-16 of its unit
  linear_scaling<T> scaling{};
  const V* lowest = nullptr;  ///< one per cell; none: as low as V goes
  const V* highest = nullptr;
  const std::uint8_t* frozen = nullptr;  ///< one bit per cell, cell k in byte k / 8 at bit k % 8: 1 does not learn
  T largest_step = (std::numeric_limits<T>::max)();  ///< that a cell may move in one call, in the unit of the map
};

namespace detail {

template <std::floating_point T, raw_integer V>
[[nodiscard]] constexpr bool is_frozen(const learning_cells<T, V>& map, std::size_t cell) noexcept {
  return map.frozen != nullptr && ((map.frozen[cell / 8] >> (cell % 8)) & 1) != 0;
}

/// Moves a cell by a number of raw units, and keeps what rounding leaves of them.
///
/// @return whether it went all the way.
template <std::floating_point T, raw_integer V>
constexpr bool move_cell(const learning_cells<T, V>& map, std::size_t cell, T raw_step) noexcept {
  constexpr T most = T{32767};  // in one call, so that 32 bits hold the sum
  const T clamped = raw_step < -most ? -most : most < raw_step ? most : raw_step;
  const T fine_step = clamped * T{65536};
  const std::int64_t fine = std::int64_t{map.remainder[cell]} +
                            static_cast<std::int32_t>(fine_step < T{0} ? fine_step - T{0.5} : fine_step + T{0.5});
  const std::int64_t whole = (fine + 32768) >> 16, wanted = std::int64_t{map.cells[cell]} + whole;
  const std::int64_t lowest = map.lowest != nullptr ? map.lowest[cell] : (std::numeric_limits<V>::min)();
  const std::int64_t highest = map.highest != nullptr ? map.highest[cell] : (std::numeric_limits<V>::max)();
  if (wanted < lowest || wanted > highest) {  // at its limit a cell stores up nothing
    map.cells[cell] = static_cast<V>(wanted < lowest ? lowest : highest);
    map.remainder[cell] = 0;
    return false;
  }
  map.cells[cell] = static_cast<V>(wanted);
  map.remainder[cell] = static_cast<std::int16_t>(fine - whole * 65536);
  return clamped == raw_step;
}

}  // namespace detail

/// Corrects raw integer cells by one measurement, with a variance per cell, as `adapt` corrects numbers.
///
/// What rounding keeps from a cell is kept for it and goes into the next call, so that corrections much smaller than a
/// unit of the cells add up. Cells that are frozen count in what the map gives, and stay. A cell never leaves its
/// limits, and moves by no more than the largest step in a call; one that was stopped keeps its variance, so that it
/// learns on at the same rate.
///
/// @param map        cells and remainders, changed in place.
/// @param variances  one per cell: how unsure each is, map unit squared. One that is not finite counts as the largest
///                   number.
/// @param at         the cells around the point and their weights, from `stencil_at`.
/// @param measured   what the map should have given there, in the unit of the map.
/// @return           measured minus what the map gave before, remainders included.
/// Errors:           nothing, and no change, when the measurement or a weight is not finite, or the scaling has no
///                   inverse. Cells outside their limits go to the nearest of them when they learn.
/// Cost:             as `adapt`, and two multiplications of 64 bits for each cell.
template <std::size_t R, std::floating_point T, raw_integer V>
constexpr std::optional<T> adapt(const learning_cells<T, V>& map, T* variances, const stencil<R, T>& at, T measured,
                                 const adapt_settings<T>& how = {}) noexcept {
  const T per_unit = T{1} / map.scaling.factor;
  T given = map.scaling.offset;
  detail::for_each_corner<stencil<R, T>::size>([&](std::size_t k) {
    const std::size_t cell = at.cell[k];
    const T raw = static_cast<T>(map.cells[cell]) + static_cast<T>(map.remainder[cell]) / T{65536};
    given += at.weight[k] * map.scaling.factor * raw;
  });
  const T residual = measured - given;
  if (!detail::is_finite(residual) || !detail::is_finite(per_unit)) return std::nullopt;
  detail::adapt_corners(
      variances, at, residual, how, [&](std::size_t cell) { return !detail::is_frozen(map, cell); },
      [&](std::size_t cell, T step) {
        const T most = map.largest_step, clamped = step < -most ? -most : most < step ? most : step;
        return detail::move_cell(map, cell, clamped * per_unit) && clamped == step;
      });
  return residual;
}

}  // namespace fettle

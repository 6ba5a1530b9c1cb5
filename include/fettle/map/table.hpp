// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <concepts>
#include <cstddef>

#include "fettle/map/axis.hpp"
#include "fettle/map/view.hpp"

namespace fettle {

/// A map: one value per crossing of its axes. Row-major, the last axis runs fastest.
///
/// Shape:  rank 1 to 3; sizes fixed at compile time; trivially copyable, so it may live in flash.
/// Errors: another number of values than crossings does not compile.
template <std::floating_point T, std::size_t... N>
class table {
  static_assert(sizeof...(N) >= 1 && sizeof...(N) <= 3, "fettle::table has rank 1, 2 or 3");

 public:
  static constexpr std::size_t rank = sizeof...(N);
  static constexpr std::size_t size = (N * ...);

  template <class U, std::size_t M>
    requires std::convertible_to<U, T>
  constexpr table(const axis<T, N>&... axes, const U (&values)[M]) noexcept {
    static_assert(M == size, "fettle::table needs one value per crossing of its axes");
    T* out = points_.data();
    ((copy(axes.points().data(), N, out), out += N), ...);
    for (std::size_t i = 0; i < M; ++i) values_[i] = static_cast<T>(values[i]);
  }

  [[nodiscard]] constexpr const auto& points() const noexcept { return points_; }  ///< all axes, end to end
  [[nodiscard]] constexpr const auto& values() const noexcept { return values_; }

  /// What algorithms see. The view lives no longer than the table.
  [[nodiscard]] constexpr map_view<rank, T> view() const noexcept {
    map_view<rank, T> result{.axes = {}, .values = values_.data()};
    const T* at = points_.data();
    std::size_t i = 0;
    ((result.axes[i++] = {at, N}, at += N), ...);
    return result;
  }

 private:
  static constexpr void copy(const T* from, std::size_t count, T* to) noexcept {
    for (std::size_t i = 0; i < count; ++i) to[i] = from[i];
  }

  std::array<T, (N + ...)> points_{};
  std::array<T, size> values_{};
};

template <std::floating_point T, std::size_t A, class U, std::size_t M>
table(const axis<T, A>&, const U (&)[M]) -> table<T, A>;
template <std::floating_point T, std::size_t A, std::size_t B, class U, std::size_t M>
table(const axis<T, A>&, const axis<T, B>&, const U (&)[M]) -> table<T, A, B>;
template <std::floating_point T, std::size_t A, std::size_t B, std::size_t C, class U, std::size_t M>
table(const axis<T, A>&, const axis<T, B>&, const axis<T, C>&, const U (&)[M]) -> table<T, A, B, C>;

}  // namespace fettle

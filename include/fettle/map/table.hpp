// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <concepts>
#include <cstddef>
#include <utility>

#include "fettle/map/axis.hpp"
#include "fettle/map/view.hpp"

namespace fettle {

namespace detail {

/// One axis of a table; a base class for each, because std::tuple is not trivially copyable.
template <std::size_t I, class A>
struct axis_slot {
  A axis;
};

template <class I, class... A>
struct axis_slots;
template <std::size_t... I, class... A>
struct axis_slots<std::index_sequence<I...>, A...> : axis_slot<I, A>... {};

template <std::size_t I, class A>
[[nodiscard]] constexpr const A& axis_at(const axis_slot<I, A>& slot) noexcept {
  return slot.axis;
}

}  // namespace detail

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
  constexpr table(const axis<T, N>&... axes, const U (&values)[M]) noexcept : axes_{{axes}...} {
    static_assert(M == size, "fettle::table needs one value per crossing of its axes");
    for (std::size_t i = 0; i < size && i < M; ++i) values_[i] = static_cast<T>(values[i]);
  }

  /// The same from values that a program has computed.
  constexpr table(const axis<T, N>&... axes, const std::array<T, size>& values) noexcept
      : axes_{{axes}...}, values_{values} {}

  template <std::size_t I>
  [[nodiscard]] constexpr const auto& axis_at() const noexcept {
    return detail::axis_at<I>(axes_);
  }
  [[nodiscard]] constexpr const std::array<T, size>& values() const noexcept { return values_; }
  [[nodiscard]] constexpr std::array<T, size>& values() noexcept { return values_; }

  /// What algorithms see. The view lives no longer than the table.
  [[nodiscard]] constexpr map_view<rank, T> view() const noexcept { return view(std::make_index_sequence<rank>{}); }

 private:
  template <std::size_t... I>
  [[nodiscard]] constexpr map_view<rank, T> view(std::index_sequence<I...>) const noexcept {
    return {.axes = {axis_at<I>().view()...}, .values = values_.data()};
  }

  detail::axis_slots<std::make_index_sequence<rank>, axis<T, N>...> axes_;
  std::array<T, size> values_{};
};

template <std::floating_point T, std::size_t A, class U, std::size_t M>
table(const axis<T, A>&, const U (&)[M]) -> table<T, A>;
template <std::floating_point T, std::size_t A, std::size_t B, class U, std::size_t M>
table(const axis<T, A>&, const axis<T, B>&, const U (&)[M]) -> table<T, A, B>;
template <std::floating_point T, std::size_t A, std::size_t B, std::size_t C, class U, std::size_t M>
table(const axis<T, A>&, const axis<T, B>&, const axis<T, C>&, const U (&)[M]) -> table<T, A, B, C>;

}  // namespace fettle

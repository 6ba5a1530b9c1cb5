// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>
#include <initializer_list>
#include <limits>

#include "fettle/fuel/fault.hpp"

namespace fettle {

/// Factors on the fuel of a cycle that a controller works out by its own rules; each is 1 when it does nothing.
template <std::floating_point T>
struct fuel_factors {
  T warm_up{1};
  T after_start{1};
  T acceleration{1};
  T closed_loop{1};
  T cylinder_trim{1};
  T learned{1};  ///< the correction learned at this point, from `adapt`
};

namespace detail {

/// The same without the factors that are no factors.
template <std::floating_point T>
[[nodiscard, gnu::noinline, gnu::cold]] constexpr T product_of_usable(const fuel_factors<T>& all) noexcept {
  T product{1};
  for (const T factor :
       {all.warm_up, all.after_start, all.acceleration, all.closed_loop, all.cylinder_trim, all.learned})
    if (factor >= T{0} && factor <= (std::numeric_limits<T>::max)()) product *= factor;
  return product;
}

}  // namespace detail

/// All factors multiplied.
///
/// Errors: a factor that is negative or not finite counts as 1, never as less fuel, and sets `factor_unusable`.
template <std::floating_point T>
[[nodiscard]] constexpr T product(const fuel_factors<T>& all, fuel_fault& faults) noexcept {
  const T product =
      all.warm_up * all.after_start * all.acceleration * all.closed_loop * all.cylinder_trim * all.learned;
  const bool all_usable = product <= (std::numeric_limits<T>::max)() && all.warm_up >= T{0} &&
                          all.after_start >= T{0} && all.acceleration >= T{0} && all.closed_loop >= T{0} &&
                          all.cylinder_trim >= T{0} && all.learned >= T{0};
  if (all_usable) return product;
  faults |= fuel_fault::factor_unusable;
  return detail::product_of_usable(all);
}

}  // namespace fettle

// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>

#include "fettle/fuel/banks.hpp"

namespace fettle {

/// The share of the second bank to ask for in this cycle: the planned one, approached at a bounded rate.
///
/// @param planned         share that the map asks for.
/// @param is_guarded      throttle below the guard: zero at once. Better a bump than spray on a nearly closed throttle
///                        (common practice, no source).
/// @param before          what this returned in the cycle before.
/// @param fastest_per_ms  from `fastest_share_per_ms`; infinite: no bound.
/// @return                share; a primary bank at its limit is relieved by `split` whatever this says.
/// Source: that a ramp of constant slope is the best is shown at `fastest_share_per_ms`.
/// Errors: keeps `before` while the planned share or the cycle is not a number, or the cycle not positive.
template <std::floating_point T>
[[nodiscard]] constexpr T ramped_share(T planned, bool is_guarded, T before, T fastest_per_ms, T cycle_ms) noexcept {
  if (is_guarded) return T{0};
  const T step = fastest_per_ms * cycle_ms;
  if (planned != planned || !(step > T{0})) return before;
  return detail::clamped(planned, before - step, before + step);
}

}  // namespace fettle

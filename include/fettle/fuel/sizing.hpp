// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>
#include <limits>

namespace fettle {

/// What a power target asks of the injectors.
template <std::floating_point T>
struct power_target {
  T power_kw = 0;
  T bsfc_g_per_kwh = 0;  ///< brake specific fuel consumption at full load
  T injectors = 0;       ///< how many share the fuel
  T duty = 0;            ///< duty cycle allowed at that power, 0 to 1
  T speed_rpm = 0;       ///< engine speed at that power; 0: dead time is not counted
  T dead_time_ms = 0;    ///< of all pulses of a cycle, at the lowest battery voltage to be expected
};

/// Share of the cycle during which an injector flows: its duty less the dead time. 0 when dead time takes all of it.
///
/// Source: a four-stroke cycle lasts 120000 / speed milliseconds.
template <std::floating_point T>
[[nodiscard]] constexpr T open_share(T duty, T dead_time_ms, T speed_rpm) noexcept {
  const T share = duty - dead_time_ms * speed_rpm / T{120000};
  return share < T{0} ? T{0} : share;
}

/// Static flow that every injector needs for a power target.
///
/// Errors: infinite when dead time takes all of the duty.
/// Source: fuel flow = power * specific consumption, shared by the injectors, which flow for `open_share` of the time.
template <std::floating_point T>
[[nodiscard]] constexpr T required_flow_g_per_min(const power_target<T>& target) noexcept {
  const T share = open_share(target.duty, target.dead_time_ms, target.speed_rpm);
  if (share == T{0}) return std::numeric_limits<T>::infinity();
  return target.power_kw * target.bsfc_g_per_kwh / (T{60} * target.injectors * share);
}

/// Power that a total static flow carries: the sum over all injectors of both banks.
///
/// @param open_share  of the time during which they flow: `open_share`, or the duty where dead time is not counted.
/// Source: `required_flow_g_per_min` solved for the power.
template <std::floating_point T>
[[nodiscard]] constexpr T carried_power_kw(T total_flow_g_per_min, T bsfc_g_per_kwh, T open_share) noexcept {
  return total_flow_g_per_min * T{60} * open_share / bsfc_g_per_kwh;
}

/// The same flow in the units of the trade (cm3/min of the fuel) and of an injector's line (mg/ms).
template <std::floating_point T>
[[nodiscard]] constexpr T cm3_per_min(T flow_g_per_min, T density_kg_m3) noexcept {
  return flow_g_per_min / density_kg_m3 * T{1000};
}
template <std::floating_point T>
[[nodiscard]] constexpr T mg_per_ms(T flow_g_per_min) noexcept {
  return flow_g_per_min / T{60};
}

/// Specific fuel consumption in g/kWh from lb/(hp h).
///
/// Source: exact definitions: the pound is 453.59237 g, the horsepower 550 foot-pounds a second.
template <std::floating_point T>
[[nodiscard]] constexpr T g_per_kwh_from_lb_per_hph(T lb_per_hph) noexcept {
  return lb_per_hph * static_cast<T>(453.59237L / 0.745699871582270L);
}

}  // namespace fettle

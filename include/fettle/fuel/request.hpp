// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <concepts>
#include <cstddef>

#include "fettle/fuel/charge.hpp"
#include "fettle/fuel/factors.hpp"
#include "fettle/fuel/fault.hpp"
#include "fettle/fuel/injector.hpp"
#include "fettle/fuel/mixture.hpp"
#include "fettle/map/place.hpp"
#include "fettle/map/strided_cells.hpp"

namespace fettle {

/// The maps that say how much fuel a cylinder wants, all on the same two axes: one search serves them all.
///
/// Parts left out: without `air_mg` the charge is speed-density, from `volumetric_efficiency`; without both it is
/// `engine_readings::air_mg`, given by the caller. Without `lambda` the mixture is stoichiometric, without
/// `secondary_share` the second bank only relieves the first, without `throttle_guard_pct` nothing is guarded. A map
/// without axes counts as left out. All is the caller's, behind pointers: it may live in flash, or be edited while
/// engines run.
template <std::floating_point T>
struct mixture_maps {
  /// Speed in rpm, and throttle in percent; with `volumetric_efficiency`, manifold pressure in kPa in its place.
  std::array<axis_view<T>, 2> axes{};
  const T* air_mg = nullptr;                 ///< per cylinder and cycle, at reference air (alpha-N)
  const T* volumetric_efficiency = nullptr;  ///< of the swept volume at manifold state (speed-density)
  const T* lambda = nullptr;                 ///< target
  const T* secondary_share = nullptr;
  const T* throttle_guard_pct = nullptr;  ///< over speed: below it the second bank stays shut, and does not relieve a
                                          ///< primary at its limit
  air_state<T> reference{};               ///< of `air_mg`
  T swept_cm3 = 0;                        ///< per cylinder, for speed-density
  T stoichiometric_afr = 0;
};

/// The sensors of one cycle.
template <std::floating_point T>
struct engine_readings {
  T speed_rpm = 0;
  T throttle_pct = 0;
  air_state<T> air{};  ///< drawn in (alpha-N), or in the manifold (speed-density)
  T air_mg = 0;        ///< per cylinder and cycle, where no map says it
  bool fuel_cut = false;
};

/// What a cylinder is to get in one cycle: made by `request_of`, or by a controller's own rules.
template <std::floating_point T>
struct fuel_request {
  T wanted_mg = 0;  ///< in the cylinder
  T cycle_ms = 0;
  T secondary_share = 0;              ///< planned, 0 to 1
  bool secondary_stays_shut = false;  ///< whatever the share and the primary's limit ask of it
  bool fuel_cut = false;
  fuel_fault faults = fuel_fault::none;
};

/// Fuel wanted, share and guard of one cycle, from sensors and maps.
///
/// Outside: maps hold their ends.
/// Errors:  NaN from a sensor that the charge needs makes `wanted_mg` NaN, and nothing is injected; a map cell that is
///          NaN does the same where it counts. A throttle or a guard that is NaN keeps the second bank shut, and
///          `faults` says `not_a_number`.
/// Cost:    two searches, one look-up a map, some four divisions.
template <std::floating_point T>
[[nodiscard]] constexpr fuel_request<T> request_of(const mixture_maps<T>& maps,
                                                   const engine_readings<T>& readings) noexcept {
  fuel_request<T> request{.cycle_ms = cycle_ms(readings.speed_rpm), .fuel_cut = readings.fuel_cut};
  T air_mg = readings.air_mg, lambda{1};
  if (maps.axes[0].size >= 2 && maps.axes[1].size >= 2) {
    const bool is_speed_density = maps.air_mg == nullptr && maps.volumetric_efficiency != nullptr;
    const T load = is_speed_density ? readings.air.pressure_kpa : readings.throttle_pct;
    const auto speed = search(maps.axes[0], readings.speed_rpm);
    const map_point<2, T> point{{static_cast<std::ptrdiff_t>(maps.axes[1].size), 1},
                                std::array{speed, search(maps.axes[1], load)}};
    if (maps.air_mg != nullptr) {
      air_mg = point.read(maps.air_mg) * density_ratio(readings.air, maps.reference);
    } else if (is_speed_density) {
      air_mg = speed_density_mg(point.read(maps.volumetric_efficiency), readings.air, maps.swept_cm3);
    }
    if (maps.lambda != nullptr) lambda = point.read(maps.lambda);
    if (maps.secondary_share != nullptr) request.secondary_share = point.read(maps.secondary_share);
    if (maps.throttle_guard_pct != nullptr) {
      const map_point<1, T> on_speed{{1}, std::array{speed}};
      const T margin_pct = readings.throttle_pct - on_speed.read(maps.throttle_guard_pct);
      request.secondary_stays_shut = !(margin_pct >= T{0});
      if (margin_pct != margin_pct) request.faults |= fuel_fault::not_a_number;
    }
  }
  request.wanted_mg = fuel_for_air(air_mg, lambda, maps.stoichiometric_afr);
  return request;
}

/// The same request with a controller's own factors on the fuel.
///
/// Errors: a factor that is none counts as 1 (`factor_unusable`).
template <std::floating_point T>
[[nodiscard]] constexpr fuel_request<T> scaled(fuel_request<T> request, const fuel_factors<T>& factors) noexcept {
  request.wanted_mg *= product(factors, request.faults);
  return request;
}

}  // namespace fettle

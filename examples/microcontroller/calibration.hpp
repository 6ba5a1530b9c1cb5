// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cstddef>

#include "fettle/fuel.hpp"
#include "fettle/map.hpp"

// What a controller must know of an invented engine, five cylinders of half a litre with two banks of injectors: all of
// it constant, so all of it in flash.
namespace controller {

inline constexpr fettle::axis<float, 16> speed_rpm{
    {500, 800, 1100, 1500, 2000, 2500, 3000, 3500, 4000, 4500, 5000, 5600, 6300, 7000, 8000, 9000}};
inline constexpr fettle::axis<float, 16> throttle_pct{{0, 3, 6, 9, 13, 17, 22, 28, 34, 41, 48, 56, 65, 75, 87, 100}};

template <class F>
consteval fettle::table<float, 16, 16> sampled(F of) {
  std::array<float, 256> values{};
  for (std::size_t i = 0; i < 256; ++i) values[i] = of(speed_rpm.points()[i / 16], throttle_pct.points()[i % 16] / 100);
  return {speed_rpm, throttle_pct, values};
}
inline constexpr auto air_mg = sampled([](float n, float a) { return 70 + 480 * a / (a + n / 20000); });
inline constexpr auto lambda = sampled([](float, float a) { return 1 - 0.13F * a; });
inline constexpr auto share = sampled([](float n, float a) { return a > 0.35F && n > 3500 ? 0.2F + 0.3F * a : 0.0F; });

inline constexpr std::array<float, 16> throttle_guard_pct{25, 25, 25, 25, 25, 26, 27, 28,
                                                          29, 30, 31, 32, 33, 34, 34, 35};
inline constexpr fettle::axis<float, 5> battery_v{{8, 10, 12, 14, 16}};
inline constexpr fettle::axis<float, 3> drop_kpa{{250, 300, 400}};
inline constexpr fettle::table<float, 5, 3> dead_time_ms{
    battery_v, drop_kpa, {2.2, 2.4, 2.8, 1.5, 1.6, 1.8, 1.0, 1.1, 1.2, 0.8, 0.9, 1.0, 0.7, 0.7, 0.8}};
inline constexpr fettle::injector<float> injector{.static_flow_mg_per_ms = 3.2F,
                                                  .reference_drop_kpa = 300,
                                                  .smallest_open_ms = 0.4F,
                                                  .dead_time_ms = dead_time_ms.view()};
inline constexpr fettle::wall_film<float> primary_film{0.25F, 300}, secondary_film{0.1F, 500};
inline constexpr fettle::fuel_calibration<float> calibration{
    .axes = air_mg.view().axes,
    .air_mg = air_mg.values().data(),
    .lambda = lambda.values().data(),
    .secondary_share = share.values().data(),
    .throttle_guard_pct = throttle_guard_pct.data(),
    .fastest_share_per_ms = fettle::fastest_share_per_ms(primary_film, secondary_film, 0.2F, 34.0F, 0.015F),
    .reference = {100, 20},
    .stoichiometric_afr = 14.6F,
    .largest_duty = 0.85F,
    .primary_film = primary_film,
    .secondary_film = secondary_film};

}  // namespace controller

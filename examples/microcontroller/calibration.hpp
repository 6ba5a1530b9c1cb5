// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cstddef>

#include "fettle/fuel.hpp"
#include "fettle/map.hpp"

// What a controller must know of an invented engine, five cylinders of half a litre with two banks of injectors: all of
// it constant, so all of it in flash.
namespace controller {

#ifdef FETTLE_DOUBLE
using real = double;
#else
using real = float;
#endif

inline constexpr fettle::axis<real, 16> speed_rpm{
    {500, 800, 1100, 1500, 2000, 2500, 3000, 3500, 4000, 4500, 5000, 5600, 6300, 7000, 8000, 9000}};
inline constexpr fettle::axis<real, 16> throttle_pct{{0, 3, 6, 9, 13, 17, 22, 28, 34, 41, 48, 56, 65, 75, 87, 100}};

template <class F>
consteval fettle::table<real, 16, 16> sampled(F value_at) {
  std::array<real, 256> values{};
  for (std::size_t i = 0; i < 256; ++i)
    values[i] = value_at(speed_rpm.points()[i / 16], throttle_pct.points()[i % 16] / 100);
  return {speed_rpm, throttle_pct, values};
}
inline constexpr auto air_mg = sampled([](real n, real a) { return 70 + 480 * a / (a + n / 20000); });
inline constexpr auto lambda = sampled([](real, real a) { return 1 - real(0.13) * a; });
inline constexpr auto share =
    sampled([](real n, real a) { return a > real(0.35) && n > 3500 ? real(0.2) + real(0.3) * a : real(0); });

inline constexpr fettle::linear_scaling<real> cell_mg{2.5, 0};

inline constexpr std::array<real, 16> throttle_guard_pct{25, 25, 25, 25, 25, 26, 27, 28,
                                                         29, 30, 31, 32, 33, 34, 34, 35};
inline constexpr fettle::axis<real, 5> battery_v{{8, 10, 12, 14, 16}};
inline constexpr fettle::axis<real, 3> drop_kpa{{250, 300, 400}};
inline constexpr fettle::table<real, 5, 3> dead_time_ms{
    battery_v, drop_kpa, {2.2, 2.4, 2.8, 1.5, 1.6, 1.8, 1.0, 1.1, 1.2, 0.8, 0.9, 1.0, 0.7, 0.7, 0.8}};
inline constexpr fettle::injector<real> injector{.static_flow_mg_per_ms = real(3.2),
                                                 .reference_drop_kpa = 300,
                                                 .smallest_open_ms = real(0.4),
                                                 .dead_time_ms = dead_time_ms.view()};
inline constexpr fettle::wall_film<real> primary_film{real(0.25), 300}, secondary_film{real(0.1), 500};
inline constexpr fettle::fuel_calibration<real> calibration{
    .mixture = {.axes = air_mg.view().axes,
                .air_mg = air_mg.values().data(),
                .lambda = lambda.values().data(),
                .secondary_share = share.values().data(),
                .throttle_guard_pct = throttle_guard_pct.data(),
                .reference = {100, 20},
                .stoichiometric_afr = real(14.6)},
    .delivery = {
        .fastest_share_per_ms = fettle::fastest_share_per_ms(primary_film, secondary_film, real(0.2), real(0.015)),
        .largest_duty = real(0.85),
        .primary_film = primary_film,
        .secondary_film = secondary_film}};

}  // namespace controller

// SPDX-License-Identifier: MIT
#pragma once

#include <concepts>
#include <type_traits>

#include "fettle/fuel/cycle.hpp"
#include "fettle/fuel/request.hpp"

namespace fettle {

/// Everything a controller must know to fuel one cylinder. Maps are views: they may live in flash.
template <std::floating_point T>
struct fuel_calibration {
  mixture_maps<T> mixture{};
  delivery_settings<T> delivery{};
};

/// One cycle of one cylinder, from sensors to the pulses of both banks: `request_of`, then `deliver`. A project that
/// needs another charge model, or rules of its own, calls these two and puts what it likes between them.
///
/// @param lines  of both banks; an engine that has one calls `deliver` with its line.
/// @param state  of this cylinder, moved on by one cycle. A fresh state has dry walls.
/// Outside: maps hold their ends.
/// Errors:  `banks.faults`; a NaN sensor injects nothing, and nothing that it spoils outlives the cycle.
/// Cost:    two searches, four look-ups (the guard's is of rank 1), some ten divisions; no heap.
template <std::floating_point T>
[[nodiscard]] constexpr fuel_cycle<T> run_cycle(const fuel_calibration<T>& calibration,
                                                const engine_readings<T>& readings,
                                                const std::type_identity_t<bank_lines<T>>& lines,
                                                bank_state<T>& state) noexcept {
  return deliver(request_of(calibration.mixture, readings), calibration.delivery, lines, state);
}

/// The same with the factors that a controller's own rules put on the fuel.
template <std::floating_point T>
[[nodiscard]] constexpr fuel_cycle<T> run_cycle(const fuel_calibration<T>& calibration,
                                                const engine_readings<T>& readings,
                                                const std::type_identity_t<bank_lines<T>>& lines, bank_state<T>& state,
                                                const fuel_factors<T>& factors) noexcept {
  return deliver(scaled(request_of(calibration.mixture, readings), factors), calibration.delivery, lines, state);
}

}  // namespace fettle

// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cstdint>

#include "calibration.hpp"
#include "fettle/fuel.hpp"
#include "fettle/map.hpp"

// What the loop of a controller calls, each a function of its own, so that its instructions can be counted.
namespace controller {

// Maps in floating point over speed in rpm and throttle in percent.
[[nodiscard]] real look_up(real rpm, real pct);
[[nodiscard]] real look_up_present(real rpm, real pct);
[[nodiscard]] real look_up_near(real rpm, real pct);
[[nodiscard]] real look_up_even(real rpm, real pct);
[[nodiscard]] real look_up_compact(real rpm, real pct);
[[nodiscard]] real look_up_rank3(real rpm, real pct, real degc);
[[nodiscard]] std::array<real, 4> look_up_four(real rpm, real pct);

// Cells of 8 bits in flash over axes in floating point, and by columns.
[[nodiscard]] real look_up_bytes(real rpm, real pct);
[[nodiscard]] real look_up_bytes_by_column(real rpm, real pct);

// Integers throughout: uneven axes of 16 bits and cells of 8, and axes by shift with cells of 8, 16 and 32 bits.
[[nodiscard]] std::uint8_t look_up_raw(std::uint16_t rpm, std::uint16_t pct);
[[nodiscard]] std::uint8_t look_up_raw_near(std::uint16_t rpm, std::uint16_t pct);
[[nodiscard]] std::uint32_t look_up_raw_fine(std::uint16_t rpm, std::uint16_t pct);
[[nodiscard]] std::int8_t look_up_int8(std::int32_t x, std::int32_t y);
[[nodiscard]] std::int16_t look_up_int16(std::int32_t x, std::int32_t y);
[[nodiscard]] std::int32_t look_up_int32(std::int32_t x, std::int32_t y);

/// One step of learning: the lambda sensor says how far the correction at this point was off.
bool learn(real rpm, real pct, real measured);

/// One cycle of two banks of injectors on one cylinder, by a calibration that the compiler sees, and by one that lies
/// somewhere in flash.
[[nodiscard]] fettle::fuel_cycle<real> fuel(real rpm, real pct);
[[nodiscard]] fettle::fuel_cycle<real> fuel_by(const fettle::fuel_calibration<real>& calibration, real rpm, real pct);

/// Battery voltage and fuel pressure, whenever they are sampled.
void supply(const fettle::injector_supply<real>& now);

void start();
[[nodiscard]] real learned(real rpm, real pct);

}  // namespace controller

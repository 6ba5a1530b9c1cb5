// SPDX-License-Identifier: MIT
#pragma once

#include <cstdint>

/// The little that a program needs of an Arm MPS2 board with a Cortex-M4F (image AN386), as QEMU models it.
namespace board {

/// Writes text to the debugger (Arm semihosting).
void print(const char* text);
void print(std::int32_t number);

/// A number with one decimal.
void print_tenths(std::int32_t tenths);

/// Ends the program; QEMU returns 0 when all is well.
[[noreturn]] void leave(bool well);

/// Instructions executed since some start, in steps of 40: under `qemu -icount shift=0` an instruction takes 1 ns, and
/// the timer counts at 25 MHz. Wraps after 2^32 ticks.
std::uint32_t ticks();
inline constexpr std::int32_t instructions_per_tick = 40;

}  // namespace board

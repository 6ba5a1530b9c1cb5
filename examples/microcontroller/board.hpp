// SPDX-License-Identifier: MIT
#pragma once

#include <cstdint>

/// The little that a program needs of an emulated board: an Arm one (board_arm.cpp) or a RISC-V machine
/// (board_virt.cpp), as QEMU models them.
namespace board {

/// Writes text to the debugger (semihosting).
void print(const char* text);
void print(std::int32_t number);

/// Ends the program; QEMU returns 0 when all is well.
[[noreturn]] void leave(bool well);

/// A counter whose steps are a fixed part of an instruction; its differences go to `instructions`. Wraps after more
/// than a hundred million instructions.
std::uint32_t counter();

/// Whole instructions in a difference of counters.
std::int32_t instructions(std::uint32_t difference);

}  // namespace board

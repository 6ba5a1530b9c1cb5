// SPDX-License-Identifier: MIT
#include <cstddef>

#include "board.hpp"

// Cortex-M4F and M7 by QEMU's machines mps2-an386 and mps2-an500, Cortex-M0 by its microbit.

// From mps2.ld.
extern "C" {
extern std::uint32_t stack_top, data_in_flash, data_begin, data_end, bss_begin, bss_end;
int main();
[[noreturn]] void reset();
[[noreturn]] void fault() {
  board::leave(false);
}
}

namespace {

std::uint32_t semihost(std::uint32_t operation, const void* argument) {
  register std::uint32_t r0 asm("r0") = operation;
  register const void* r1 asm("r1") = argument;
  asm volatile("bkpt 0xAB" : "+r"(r0) : "r"(r1) : "memory");
  return r0;
}

volatile std::uint32_t& at(std::uint32_t address) {
  return *reinterpret_cast<volatile std::uint32_t*>(address);
}

#ifdef __ARM_ARCH_6M__
// Timer 0 of the nRF51: 16 MHz. Under `qemu -icount shift=10` an instruction takes 1024 ns: 16.384 ticks.
constexpr std::uint32_t timer = 0x40008000;
void start_timer() {
  at(timer + 0x508) = 3;  // BITMODE: 32 bits
  at(timer + 0x510) = 0;  // PRESCALER
  at(timer) = 1;          // TASKS_START
}
std::uint32_t ticks() {
  at(timer + 0x40) = 1;  // TASKS_CAPTURE[0]
  return at(timer + 0x540);
}
constexpr std::uint32_t ticks_per_1000_instructions = 16384;
#else
// CMSDK APB timer 0: CTRL, VALUE, RELOAD, at 25 MHz. Under `qemu -icount shift=10` an instruction takes 1024 ns: 25.6
// ticks.
constexpr std::uint32_t timer = 0x40000000;
void start_timer() {
  at(timer + 8) = 0xFFFFFFFF;
  at(timer + 4) = 0xFFFFFFFF;
  at(timer) = 1;
}
std::uint32_t ticks() {
  return 0U - at(timer + 4);  // it counts down
}
constexpr std::uint32_t ticks_per_1000_instructions = 25600;
#endif

}  // namespace

using handler = void (*)();
[[gnu::section(".vectors"), gnu::used]] const handler vectors[16] = {reinterpret_cast<handler>(&stack_top),
                                                                     reset,
                                                                     fault,
                                                                     fault,
                                                                     fault,
                                                                     fault,
                                                                     fault,
                                                                     fault,
                                                                     fault,
                                                                     fault,
                                                                     fault,
                                                                     fault,
                                                                     fault,
                                                                     fault,
                                                                     fault,
                                                                     fault};

void reset() {
#ifdef __ARM_FP
  at(0xE000ED88) |= 0xFU << 20;  // CPACR: switch the floating-point unit on
  asm volatile("dsb\n isb");
#endif
  const std::uint32_t* from = &data_in_flash;
  for (std::uint32_t* to = &data_begin; to < &data_end; ++to, ++from) *to = *from;
  for (std::uint32_t* to = &bss_begin; to < &bss_end; ++to) *to = 0;
  start_timer();
  main();
  board::leave(true);
}

namespace board {

void print(const char* text) {
  semihost(0x04, text);
}  // SYS_WRITE0

void leave(bool well) {
  const std::uint32_t block[] = {well ? 0x20026U : 0x20023U, 0};  // ADP_Stopped_ApplicationExit, _RunTimeErrorUnknown
  for (;;) semihost(0x18, reinterpret_cast<const void*>(block[0]));  // SYS_EXIT
}

std::uint32_t counter() {
  return ticks();
}

std::int32_t instructions(std::uint32_t difference) {
  constexpr std::uint32_t half = ticks_per_1000_instructions / 2;
  return static_cast<std::int32_t>((std::uint64_t{difference} * 1000 + half) / ticks_per_1000_instructions);
}

}  // namespace board

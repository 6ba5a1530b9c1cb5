// SPDX-License-Identifier: MIT
#include <cstddef>

#include "board.hpp"

// 32-bit RISC-V: QEMU's machine virt without firmware.
extern "C" {
int main();
[[noreturn]] void start_program();
[[noreturn]] void fault() {
  board::leave(false);
}
[[gnu::naked, gnu::section(".start"), gnu::used]] void reset() {
  asm volatile(
      "la sp, stack_top\n"
      "la t0, fault\n"
      "csrw mtvec, t0\n"
      "li t0, 0x6000\n"  // mstatus.FS: switch the floating-point unit on
      "csrs mstatus, t0\n"
      "j start_program\n");
}
}

namespace {

std::uint32_t semihost(std::uint32_t operation, const void* argument) {
  register std::uint32_t a0 asm("a0") = operation;
  register const void* a1 asm("a1") = argument;
  asm volatile(
      ".balign 16\n"
      ".option push\n"
      ".option norvc\n"
      "slli x0, x0, 0x1f\n"
      "ebreak\n"
      "srai x0, x0, 7\n"
      ".option pop\n"
      : "+r"(a0)
      : "r"(a1)
      : "memory");
  return a0;
}

}  // namespace

void start_program() {
  main();
  board::leave(true);
}

// The compiler may call these for copies; there is no C library here.
extern "C" void* memcpy(void* to, const void* from, std::size_t count) {
  auto* out = static_cast<volatile unsigned char*>(to);
  const auto* in = static_cast<const unsigned char*>(from);
  for (std::size_t i = 0; i < count; ++i) out[i] = in[i];
  return to;
}
extern "C" void* memset(void* to, int value, std::size_t count) {
  auto* out = static_cast<volatile unsigned char*>(to);
  for (std::size_t i = 0; i < count; ++i) out[i] = static_cast<unsigned char>(value);
  return to;
}

namespace board {

void print(const char* text) {
  semihost(0x04, text);
}  // SYS_WRITE0

void leave(bool well) {
  const std::uint32_t block[] = {well ? 0x20026U : 0x20023U, 0};  // ADP_Stopped_ApplicationExit, _RunTimeErrorUnknown
  for (;;) semihost(0x18, reinterpret_cast<const void*>(block[0]));  // SYS_EXIT
}

// Under `qemu -icount shift=0` this counts instructions.
std::uint32_t counter() {
  std::uint32_t count;
  asm volatile("csrr %0, minstret" : "=r"(count)::"memory");
  return count;
}

std::int32_t instructions(std::uint32_t difference) {
  return static_cast<std::int32_t>(difference);
}

}  // namespace board

// SPDX-License-Identifier: MIT
// Maps and fuelling on a microcontroller, in a simulated drive: prints what each call costs in instructions, call and
// return included, in the mean and at worst.
#include <array>
#include <concepts>
#include <cstddef>
#include <cstdint>

#include "board.hpp"
#include "controller.hpp"

#ifndef FETTLE_CYCLES
#define FETTLE_CYCLES 1000
#endif

namespace {

using controller::real;

// A drive: speed and throttle wander from cycle to cycle, coolant warms up.
constexpr std::size_t cycles = FETTLE_CYCLES;
std::array<real, cycles> speed, throttle, coolant;
std::array<std::uint16_t, cycles> speed_in, throttle_in;
std::array<std::int32_t, cycles> x_in, y_in;

void make_drive() {
  real n = 3000, a = 20, dn = 9, da = real(0.4);
  for (std::size_t i = 0; i < cycles; ++i) {
    n += dn;
    a += da;
    if (n > 8700 || n < 900) dn = -dn;
    if (a > 97 || a < 2) da = -da;
    speed[i] = n;
    throttle[i] = a;
    coolant[i] = static_cast<real>(i) / 10;
    speed_in[i] = static_cast<std::uint16_t>(n);
    throttle_in[i] = static_cast<std::uint16_t>(a);
    x_in[i] = static_cast<std::int32_t>(n * 1600);
    y_in[i] = static_cast<std::int32_t>(a * 150000);
  }
}

/// The compiler may not drop what a value took; numbers stay in the register in which they came.
template <class V>
void use(const V& value) {
  asm volatile("" ::"m"(value));
}
template <std::integral V>
void use(const V& value) {
  asm volatile("" ::"r"(value));
}
#if defined(__ARM_FP)
void use(const real& value) {
  asm volatile("" ::"w"(value));
}
#elif defined(__riscv_flen)
void use(const real& value) {
  asm volatile("" ::"f"(value));
}
#endif

/// Instructions of a call in tenths of one, in the mean over the drive, and of the longest.
struct cost {
  std::int32_t mean_tenths = 0, most = 0;
};

template <class F>
cost cost_of(F each) {
  const std::uint32_t start = board::counter();
  for (std::size_t i = 0; i < cycles; ++i) each(i);
  cost result{board::instructions(board::counter() - start) / (static_cast<std::int32_t>(cycles) / 10)};
  for (std::size_t i = 0; i < cycles; ++i) {
    const std::uint32_t from = board::counter();
    each(i);
    const std::int32_t took = board::instructions(board::counter() - from);
    if (took > result.most) result.most = took;
  }
  return result;
}

void print_padded(std::int32_t number, std::int32_t width) {
  for (std::int32_t digits = 1, rest = number; digits < width; ++digits)
    if ((rest /= 10) == 0) board::print(" ");
  board::print(number);
}

/// Prints the instructions of one call above those of a call that does nothing with as many inputs.
template <class F>
cost report(const char* what, F each) {
  const cost empty = cost_of([](std::size_t i) { use(speed[i]), use(throttle[i]); });
  const cost all = cost_of(each);
  const cost own{all.mean_tenths - empty.mean_tenths, all.most - empty.most};
  board::print(what);
  print_padded(own.mean_tenths / 10, 6);
  board::print(".");
  board::print(own.mean_tenths % 10);
  print_padded(own.most, 8);
  board::print("\n");
  return own;
}

#define FETTLE_EACH(call) [](std::size_t i) { (void)i, use(call); }

/// Every budget that is passed is named, and the program fails.
bool within(const char* what, cost measured, std::int32_t mean) {
  if (measured.mean_tenths <= 10 * mean || FETTLE_BUDGETS == 0) return true;
  board::print("OVER BUDGET: ");
  board::print(what);
  board::print("\n");
  return false;
}

bool measure() {
  bool well = true;
  const auto row = [&](const char* what, std::int32_t budget, auto each) {
    well = within(what, report(what, each), budget) && well;
  };
  board::print("instructions                            mean    worst\n");
  row("look-up 16x16, uneven axes          ", 130, FETTLE_EACH(controller::look_up(speed[i], throttle[i])));
  row("  of cells without axes of their own", 999, FETTLE_EACH(controller::look_up_present(speed[i], throttle[i])));
  row("  near the last point               ", 69, FETTLE_EACH(controller::look_up_near(speed[i], throttle[i])));
  row("  even axes                         ", 90, FETTLE_EACH(controller::look_up_even(speed[i], throttle[i])));
  row("  axes of breakpoints alone         ", 999, FETTLE_EACH(controller::look_up_compact(speed[i], throttle[i])));
  row("  four maps from one search         ", 130, FETTLE_EACH(controller::look_up_four(speed[i], throttle[i])));
  row("  8-bit cells                       ", 999, FETTLE_EACH(controller::look_up_bytes(speed[i], throttle[i])));
  row("  8-bit cells by columns            ", 999,
      FETTLE_EACH(controller::look_up_bytes_by_column(speed[i], throttle[i])));
  row("look-up 16x16x8, uneven axes        ", 999,
      FETTLE_EACH(controller::look_up_rank3(speed[i], throttle[i], coolant[i])));
  row("integers, 16-bit uneven axes        ", 999, FETTLE_EACH(controller::look_up_raw(speed_in[i], throttle_in[i])));
  row("  near the last point               ", 999,
      FETTLE_EACH(controller::look_up_raw_near(speed_in[i], throttle_in[i])));
  row("  in 65536ths of a cell             ", 999,
      FETTLE_EACH(controller::look_up_raw_fine(speed_in[i], throttle_in[i])));
  row("integers, axes by shift, int8 cells ", 44, FETTLE_EACH(controller::look_up_int8(x_in[i], y_in[i])));
  row("  int16 cells                       ", 63, FETTLE_EACH(controller::look_up_int16(x_in[i], y_in[i])));
  row("  int32 cells                       ", 60, FETTLE_EACH(controller::look_up_int32(x_in[i], y_in[i])));
  row("one step of learning                ", 380, FETTLE_EACH(controller::learn(speed[i], throttle[i], real(0.05))));
  const auto* const volatile somewhere = &controller::calibration;
  row("one fuel cycle, calibration in flash", 700,
      [calibration = somewhere](std::size_t i) { use(controller::fuel_by(*calibration, speed[i], throttle[i])); });
  row("  calibration seen by the compiler  ", 600, FETTLE_EACH(controller::fuel(speed[i], throttle[i])));
  return well;
}

/// Hint or not, the same value; other layouts and integers, the same map within what their cells can hold.
bool agree() {
  bool well = true;
  for (std::size_t i = 0; i < cycles; ++i) {
    const real n = speed[i], a = throttle[i], value = controller::look_up(n, a);
    well = well && value == controller::look_up_near(n, a);
    const real near = value - controller::look_up_compact(n, a);
    well = well && near < value * real(1e-5) && near > -value * real(1e-5);
    well = well && controller::look_up_bytes(n, a) == controller::look_up_bytes_by_column(n, a);
    const std::uint8_t raw = controller::look_up_raw(speed_in[i], throttle_in[i]);
    well = well && raw == controller::look_up_raw_near(speed_in[i], throttle_in[i]);
    well = well && raw == (controller::look_up_raw_fine(speed_in[i], throttle_in[i]) + 32768) / 65536;
    const real off = controller::cell_mg.physical(raw) - controller::look_up(speed_in[i], throttle_in[i]);
    well = well && off < real(2.6) && off > real(-2.6);
  }
  return well;
}

}  // namespace

int main() {
  make_drive();
  controller::start();
  bool well = measure();
  well = agree() && well;
  board::print("learned correction at 3000 rpm, 20 %: ");
  board::print(static_cast<std::int32_t>(controller::learned(3000, 20) * 1000 + real(0.5)));
  board::print(" per mille of 50\n");
  board::print(well ? "all is well\n" : "something is wrong\n");
  board::leave(well);
}

// SPDX-License-Identifier: MIT
// Maps on a microcontroller: in flash, read in float and in pure integers, one of them learning, in a simulated loop.
// Prints what a look-up costs in instructions, call and return included. No heap, no exceptions, no RTTI.
#include <array>
#include <cstddef>
#include <cstdint>

#include "board.hpp"
#include "calibration.hpp"
#include "fettle/fuel.hpp"
#include "fettle/map.hpp"

namespace {

using namespace controller;

constexpr auto spark_deg = sampled([](float n, float a) { return 10 + n / 400 - 12 * a; });
constexpr auto air_view = air_mg.view();

// The same four maps without axes of their own: shared axes, one search.
constexpr fettle::cells<float, 16, 16> air_cells{air_mg.values()}, lambda_cells{lambda.values()},
    share_cells{share.values()}, spark_cells{spark_deg.values()};

// The same air map in integers: 16-bit inputs, 8-bit cells of 2.5 mg.
constexpr fettle::axis<std::uint16_t, 16> speed_raw{
    {500, 800, 1100, 1500, 2000, 2500, 3000, 3500, 4000, 4500, 5000, 5600, 6300, 7000, 8000, 9000}};
constexpr fettle::axis<std::uint16_t, 16> throttle_raw{{0, 3, 6, 9, 13, 17, 22, 28, 34, 41, 48, 56, 65, 75, 87, 100}};
constexpr fettle::linear_scaling<float> cell_mg{2.5F, 0};
constexpr auto air_raw = [] {
  std::array<std::uint8_t, 256> cells{};
  for (std::size_t i = 0; i < 256; ++i) cells[i] = *cell_mg.raw<std::uint8_t>(air_mg.values()[i]);
  return cells;
}();
constexpr fettle::map_view<2, std::uint16_t, std::uint8_t> air_raw_view{.axes = {speed_raw.view(), throttle_raw.view()},
                                                                        .values = air_raw.data()};

// What changes: the places of the last look-up, and a map that learns.
std::array<fettle::place<float>, 2> last;
std::array<fettle::integer_place, 2> last_raw;
std::array<float, 256> correction, variance;

[[gnu::noinline]] float look_up(float x, float y) {
  return fettle::interpolate(air_view, x, y);
}
[[gnu::noinline]] float look_up_near(float x, float y) {
  return fettle::interpolate(air_view, last, x, y);
}
[[gnu::noinline]] std::array<float, 4> look_up_four(float x, float y) {
  last = fettle::locate(air_view, last, x, y);
  return fettle::interpolate_each(last, air_cells, lambda_cells, share_cells, spark_cells);
}
[[gnu::noinline]] std::uint8_t look_up_raw(std::uint16_t x, std::uint16_t y) {
  return fettle::interpolate(air_raw_view, x, y);
}
[[gnu::noinline]] std::uint8_t look_up_raw_near(std::uint16_t x, std::uint16_t y) {
  return fettle::interpolate(air_raw_view, last_raw, x, y);
}

/// One step of learning: the lambda sensor says how far the correction at this point was off.
[[gnu::noinline]] bool learn(float x, float y, float measured) {
  const std::array at{fettle::locate(air_view.axes[0], x), fettle::locate(air_view.axes[1], y)};
  return fettle::adapt(correction.data(), variance.data(), fettle::stencil_at(air_view.axes, at), measured,
                       {.noise_variance = 1e-3F, .forgetting = 0.999F, .variance_cap = 0.01F})
      .has_value();
}

// Two banks of injectors on one cylinder.
fettle::bank_lines<float> lines;
fettle::bank_state<float> banks;

// [fuel]
[[gnu::noinline]] fettle::fuel_cycle<float> fuel(float rpm, float pct) {
  return fettle::run_cycle(calibration, {.speed_rpm = rpm, .throttle_pct = pct, .air = {100, 20}}, lines, banks);
}
// [/fuel]

// A drive of 1000 cycles: speed and throttle wander from cycle to cycle.
constexpr std::size_t cycles = 1000;
std::array<float, cycles> speed, throttle;
std::array<std::uint16_t, cycles> speed_in, throttle_in;

void make_drive() {
  float n = 3000, a = 20, dn = 9, da = 0.4F;
  for (std::size_t i = 0; i < cycles; ++i) {
    n += dn;
    a += da;
    if (n > 8700 || n < 900) dn = -dn;
    if (a > 97 || a < 2) da = -da;
    speed[i] = n;
    throttle[i] = a;
    speed_in[i] = static_cast<std::uint16_t>(n);
    throttle_in[i] = static_cast<std::uint16_t>(a);
  }
}

void use(float value) {
  asm volatile("" ::"t"(value));
}
void use(std::uint32_t value) {
  asm volatile("" ::"r"(value));
}

template <class F>
std::int32_t ticks_of(F each) {
  const std::uint32_t start = board::ticks();
  for (std::size_t i = 0; i < cycles; ++i) each(i);
  return static_cast<std::int32_t>(board::ticks() - start);
}

/// Prints the instructions of one call, in tenths, above those of a loop that only reads the inputs.
template <class F>
std::int32_t report(const char* what, F each) {
  const std::int32_t empty = ticks_of([](std::size_t i) { use(speed[i]), use(throttle[i]); });
  const std::int32_t tenths =
      (ticks_of(each) - empty) * board::instructions_per_tick / (static_cast<std::int32_t>(cycles) / 10);
  board::print(what);
  board::print_tenths(tenths);
  board::print(" instructions\n");
  return tenths;
}

/// Instructions of the longest call, in steps of the timer, reading it included.
template <class F>
std::int32_t costliest(F each) {
  std::uint32_t longest = 0;
  for (std::size_t i = 0; i < cycles; ++i) {
    const std::uint32_t start = board::ticks();
    each(i);
    const std::uint32_t took = board::ticks() - start;
    if (took > longest) longest = took;
  }
  return static_cast<std::int32_t>(longest) * board::instructions_per_tick;
}

}  // namespace

int main() {
  make_drive();
  variance.fill(0.01F);
  const fettle::injector_supply<float> supply{13.5F, 300};
  lines = {fettle::flow_line_at(injector, supply), fettle::flow_line_at(injector, supply)};
  bool well = true;

  report("float look-up 16x16:                ", [](std::size_t i) { use(look_up(speed[i], throttle[i])); });
  const std::int32_t near =
      report("float look-up near the last:        ", [](std::size_t i) { use(look_up_near(speed[i], throttle[i])); });
  report("four float maps from one search:    ", [](std::size_t i) { use(look_up_four(speed[i], throttle[i])[3]); });
  report("integer look-up 16x16:              ",
         [](std::size_t i) { use(std::uint32_t{look_up_raw(speed_in[i], throttle_in[i])}); });
  report("integer look-up near the last:      ",
         [](std::size_t i) { use(std::uint32_t{look_up_raw_near(speed_in[i], throttle_in[i])}); });
  report("one step of adapt with its search:  ",
         [](std::size_t i) { use(std::uint32_t{learn(speed[i], throttle[i], 0.05F)}); });
  const std::int32_t cycle = report("one fuel cycle of two banks:        ",
                                    [](std::size_t i) { use(fuel(speed[i], throttle[i]).banks.primary_ms); });
  board::print("  the costliest of them, to 40:     ");
  board::print(costliest([](std::size_t i) { use(fuel(speed[i], throttle[i]).banks.primary_ms); }));
  board::print(" instructions\n");
  well = well && near <= 1200 && cycle <= 9000;

  for (std::size_t i = 0; i < cycles; ++i) {  // hint or not, the same value; integers, the same map within a cell
    const float value = look_up(speed[i], throttle[i]);
    well = well && value == look_up_near(speed[i], throttle[i]);
    const float raw = cell_mg.physical(look_up_raw(speed_in[i], throttle_in[i]));
    const float same = look_up(speed_in[i], throttle_in[i]);
    well = well && raw - same < 2.6F && same - raw < 2.6F;
    well = well && look_up_raw(speed_in[i], throttle_in[i]) == look_up_raw_near(speed_in[i], throttle_in[i]);
  }
  fettle::map_view<2, float> learned = air_view;
  learned.values = correction.data();
  board::print("learned correction at 3000 rpm, 20 %: ");
  board::print(static_cast<std::int32_t>(fettle::interpolate(learned, 3000, 20) * 1000 + 0.5F));
  board::print(" per mille of 50\n");
  board::print(well ? "all is well\n" : "something is wrong\n");
  board::leave(well);
}

// SPDX-License-Identifier: MIT
#include "controller.hpp"

#include <cstddef>

// No heap, no exceptions, no run-time type information. Functions that the linker does not need cost nothing.
namespace controller {
namespace {

constexpr auto spark_deg = sampled([](real n, real a) { return 10 + n / 400 - 12 * a; });
constexpr auto air_view = air_mg.view();

// The same four maps without axes of their own: shared axes, one search.
constexpr fettle::cells<real, 16, 16> air_cells{air_mg.values()}, lambda_cells{lambda.values()},
    share_cells{share.values()}, spark_cells{spark_deg.values()};

// Evenly spaced axes of the same span, computed.
constexpr fettle::even_axis<real> even_rpm{500, 600, 16}, even_pct{0, real{20} / 3, 16};

// Breakpoints alone, a quarter of the memory.
constexpr fettle::compact_axis<real, 16> compact_rpm{speed_rpm.points()}, compact_pct{throttle_pct.points()};
constexpr fettle::map_view<2, real> compact_view{.axes = {compact_rpm.view(), compact_pct.view()},
                                                 .values = air_mg.values().data()};

constexpr fettle::axis<real, 8> coolant_degc{{-20, 0, 20, 40, 60, 80, 100, 120}};
constexpr auto cuboid_cells = [] {
  std::array<real, 16 * 16 * 8> values{};
  for (std::size_t i = 0; i < values.size(); ++i)
    values[i] = air_mg.values()[i / 8] * (1 + static_cast<real>(7 - i % 8) / 50);
  return values;
}();
constexpr fettle::map_view<3, real> cuboid{.axes = {speed_rpm.view(), throttle_pct.view(), coolant_degc.view()},
                                           .values = cuboid_cells.data()};

// The same air map in 8-bit cells of 2.5 mg, by rows and by columns.
constexpr auto air_raw = [] {
  std::array<std::uint8_t, 256> cells{};
  for (std::size_t i = 0; i < 256; ++i) cells[i] = *cell_mg.raw<std::uint8_t>(air_mg.values()[i]);
  return cells;
}();
constexpr auto air_raw_by_column = [] {
  std::array<std::uint8_t, 256> cells{};
  for (std::size_t i = 0; i < 256; ++i) cells[i % 16 * 16 + i / 16] = air_raw[i];
  return cells;
}();
constexpr fettle::map_view<2, real, std::uint8_t> bytes_view{.axes = air_view.axes, .values = air_raw.data()};
constexpr auto bytes_by_column = fettle::column_major<2>(air_raw_by_column.data(), {16, 16});

// In integers throughout: 16-bit inputs.
constexpr fettle::axis<std::uint16_t, 16> speed_raw{
    {500, 800, 1100, 1500, 2000, 2500, 3000, 3500, 4000, 4500, 5000, 5600, 6300, 7000, 8000, 9000}};
constexpr fettle::axis<std::uint16_t, 16> throttle_raw{{0, 3, 6, 9, 13, 17, 22, 28, 34, 41, 48, 56, 65, 75, 87, 100}};
constexpr fettle::map_view<2, std::uint16_t, std::uint8_t> air_raw_view{.axes = {speed_raw.view(), throttle_raw.view()},
                                                                        .values = air_raw.data()};

// Axes of 16 breakpoints 2^20 apart: a 32-bit input with 20 bits below the breakpoint's number.
constexpr auto shift_x = *fettle::shift_axis<std::int32_t>::from(0, 20, 16),
               shift_y = *fettle::shift_axis<std::int32_t>::from(0, 20, 16);
template <class V>
constexpr std::array<V, 256> rising = [] {
  std::array<V, 256> cells{};
  for (std::size_t i = 0; i < 256; ++i) cells[i] = static_cast<V>(static_cast<int>(i / 16 * 8 + i % 16 * 8) - 120);
  return cells;
}();
template <class V>
constexpr auto rising_view = fettle::row_major<2>(rising<V>.data(), {16, 16});

// What changes: the places of the last look-up, and a map that learns.
std::array<fettle::place<real>, 2> last;
std::array<std::size_t, 2> last_cell;
std::array<fettle::integer_place, 2> last_raw;
std::array<real, 256> correction, variance;

// Two banks of injectors on one cylinder.
fettle::bank_lines<real> lines;
fettle::bank_state<real> banks;

}  // namespace

real look_up(real rpm, real pct) {
  return fettle::interpolate(air_view, rpm, pct);
}
real look_up_present(real rpm, real pct) {
  return fettle::interpolate(air_cells, std::array{search(air_view.axes[0], rpm), search(air_view.axes[1], pct)});
}
real look_up_near(real rpm, real pct) {
  return fettle::interpolate(air_view, last, rpm, pct);
}
real look_up_even(real rpm, real pct) {
  return fettle::interpolate(air_cells, std::array{search(even_rpm, rpm), search(even_pct, pct)});
}
real look_up_compact(real rpm, real pct) {
  return fettle::interpolate(compact_view, rpm, pct);
}
real look_up_rank3(real rpm, real pct, real degc) {
  return fettle::interpolate(cuboid, rpm, pct, degc);
}
std::array<real, 4> look_up_four(real rpm, real pct) {
  const std::array at{search(air_view.axes[0], rpm, last_cell[0]), search(air_view.axes[1], pct, last_cell[1])};
  return fettle::interpolate_each(at, air_cells, lambda_cells, share_cells, spark_cells);
}
real look_up_bytes(real rpm, real pct) {
  return fettle::interpolate(bytes_view, rpm, pct);
}
real look_up_bytes_by_column(real rpm, real pct) {
  return fettle::interpolate(bytes_by_column, std::array{search(air_view.axes[0], rpm), search(air_view.axes[1], pct)});
}
std::uint8_t look_up_raw(std::uint16_t rpm, std::uint16_t pct) {
  return fettle::interpolate(air_raw_view, rpm, pct);
}
std::uint8_t look_up_raw_near(std::uint16_t rpm, std::uint16_t pct) {
  return fettle::interpolate(air_raw_view, last_raw, rpm, pct);
}
std::uint32_t look_up_raw_fine(std::uint16_t rpm, std::uint16_t pct) {
  return fettle::interpolate_fine(air_raw_view,
                                  std::array{locate(air_raw_view.axes[0], rpm), locate(air_raw_view.axes[1], pct)});
}
std::int8_t look_up_int8(std::int32_t x, std::int32_t y) {
  return fettle::interpolate(rising_view<std::int8_t>, std::array{locate(shift_x, x), locate(shift_y, y)});
}
std::int16_t look_up_int16(std::int32_t x, std::int32_t y) {
  return fettle::interpolate(rising_view<std::int16_t>, std::array{locate(shift_x, x), locate(shift_y, y)});
}
std::int32_t look_up_int32(std::int32_t x, std::int32_t y) {
  return fettle::interpolate(rising_view<std::int32_t>, std::array{locate(shift_x, x), locate(shift_y, y)});
}

bool learn(real rpm, real pct, real measured) {
  const std::array at{fettle::locate(air_view.axes[0], rpm), fettle::locate(air_view.axes[1], pct)};
  return fettle::adapt(correction.data(), variance.data(), fettle::stencil_at(air_view.axes, at), measured,
                       {.noise_variance = real(1e-3), .forgetting = real(0.999), .variance_cap = real(0.01)})
      .has_value();
}

// [fuel]
[[gnu::flatten]] fettle::fuel_cycle<real> fuel(real rpm, real pct) {
  return fettle::run_cycle(calibration, {.speed_rpm = rpm, .throttle_pct = pct, .air = {100, 20}}, lines, banks);
}
// [/fuel]

fettle::fuel_cycle<real> fuel_by(const fettle::fuel_calibration<real>& from, real rpm, real pct) {
  return fettle::run_cycle(from, {.speed_rpm = rpm, .throttle_pct = pct, .air = {100, 20}}, lines, banks);
}

void supply(const fettle::injector_supply<real>& now) {
  lines = {fettle::flow_line_at(injector, now), fettle::flow_line_at(injector, now)};
}

void start() {
  variance.fill(real(0.01));
  supply({13.5, 300});
}

real learned(real rpm, real pct) {
  fettle::map_view<2, real> map = air_view;
  map.values = correction.data();
  return fettle::interpolate(map, rpm, pct);
}

}  // namespace controller

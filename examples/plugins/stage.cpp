// SPDX-License-Identifier: MIT
// Plugin: a mass of fuel to the pulses of two banks of injectors.
#include <array>
#include <cstddef>
#include <cstdint>
#include <string>
#include <utility>
#include <vector>

#include "fettle/fuel/banks.hpp"
#include "fettle/map/interpolate.hpp"
#include "plugin.hpp"

namespace {

/// One bank: a flow, and a dead time over battery voltage.
class bank {
 public:
  bank(const plugin::settings& given, const std::string& name)
      : flow_mg_per_ms_(given.number(name + "_flow_mg_per_ms", 1e-3, 1e4)),
        smallest_open_ms_(given.number(name + "_smallest_open_ms", 0, 50)),
        dead_time_ms_(given.map(name + "_dead_time_ms", 1, 1)) {}

  [[nodiscard]] fettle::flow_line<double> line(double battery_v) const noexcept {
    return {.flow_mg_per_ms = flow_mg_per_ms_,
            .dead_time_ms = fettle::interpolate(dead_time_ms_.table.view<1>(), battery_v),
            .smallest_open_ms = smallest_open_ms_};
  }

 private:
  double flow_mg_per_ms_, smallest_open_ms_;
  plugin::named_map dead_time_ms_;
};

class stage {
 public:
  explicit stage(const plugin::settings& given)
      : share_(given.map("secondary_share", 2, 2)),
        primary_(given, "primary"),
        secondary_(given, "secondary"),
        largest_duty_(given.number("largest_duty", 0, 1)) {}

  [[nodiscard]] std::vector<std::string> inputs() const {
    return {share_.axis_names[0], share_.axis_names[1], "rpm", "battery_v", "mass_mg"};
  }
  [[nodiscard]] std::vector<std::string> outputs() const {
    return {"primary_ms", "secondary_ms", "shortfall_mg", "faults"};
  }

  void run(const double* const* in, double* const* out, std::size_t rows) noexcept {
    const auto share = share_.table.view<2>();
    for (std::size_t row = 0; row < rows; ++row) {
      const double battery_v = in[3][row];
      // [split]
      const double asked_mg = in[4][row], planned = fettle::interpolate(share, in[0][row], in[1][row]);
      const auto banks =
          fettle::split(asked_mg, planned, {primary_.line(battery_v), secondary_.line(battery_v)},
                        {.cycle_ms = fettle::cycle_ms(in[2][row]), .largest_duty = largest_duty_}, before_);
      before_ = banks.mode;
      // [/split]
      out[0][row] = banks.primary_ms;
      out[1][row] = banks.secondary_ms;
      out[2][row] = banks.shortfall_mg;
      out[3][row] = static_cast<double>(static_cast<std::uint16_t>(banks.faults));
    }
  }

  void reset() noexcept { before_ = fettle::bank_mode::none; }

 private:
  plugin::named_map share_;
  bank primary_, secondary_;
  double largest_duty_;
  fettle::bank_mode before_ = fettle::bank_mode::none;
};

}  // namespace

const fettle_plugin_table* fettle_plugin() {
  static constexpr fettle_plugin_table table = plugin::table_of<stage>(
      {.name = "stage",
       .version = "1.0",
       .purpose = "shares fuel between two banks of injectors, row by row as one cylinder runs",
       .usage = "map secondary_share: two axes, 0 to 1\n"
                "map primary_dead_time_ms, secondary_dead_time_ms: over battery voltage\n"
                "numbers primary_flow_mg_per_ms, secondary_flow_mg_per_ms\n"
                "numbers primary_smallest_open_ms, secondary_smallest_open_ms: beyond the dead time\n"
                "number largest_duty: 0 to 1\n"
                "inputs: the axes of the share, rpm, battery_v, mass_mg per cylinder and cycle\n"
                "outputs primary_ms, secondary_ms, shortfall_mg, faults (bits of fettle::fuel_fault)\n"});
  return &table;
}

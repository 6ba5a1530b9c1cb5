// SPDX-License-Identifier: MIT
// A plugin to start from: air per cylinder and cycle from a map over speed and throttle, at the air of the moment.
#include "plugin.hpp"

#include <cstddef>
#include <string>
#include <vector>

#include "fettle/fuel/charge.hpp"

namespace {

// [class]
class my_plugin {
 public:
  // Take what you need by name; a plugin::refusal or any other exception becomes a status and a message.
  explicit my_plugin(const plugin::settings& given)
      : air_(given.map("air_mg", 2, 2)),
        reference_{given.number("reference_kPa", 1, 1000), given.number("reference_degC", -60, 150)} {}

  // Columns in and out, with their units in the names.
  [[nodiscard]] std::vector<std::string> inputs() const {
    return {air_.axis_names[0], air_.axis_names[1], "air_kPa", "air_degC"};
  }
  [[nodiscard]] std::vector<std::string> outputs() const { return {"charge_mg"}; }

  // A column each, in the order above.
  void run(const double* const* in, double* const* out, std::size_t rows) const noexcept {
    for (std::size_t i = 0; i < rows; ++i)
      out[0][i] = fettle::alpha_n_mg(air_.table.view<2>(), in[0][i], in[1][i], {in[2][i], in[3][i]}, reference_);
  }

 private:
  plugin::named_map air_;
  fettle::air_state<double> reference_;
};
// [/class]

}  // namespace

// [entry]
const fettle_plugin_table* fettle_plugin() {
  static constexpr fettle_plugin_table table =
      plugin::table_of<my_plugin>({.name = "my_plugin",
                                   .version = "1.0",
                                   .purpose = "one line on what it does",
                                   .usage = "map air_mg: two axes, at reference air\n"
                                            "numbers reference_kPa, reference_degC\n"
                                            "inputs: the axes of the map, air_kPa, air_degC\n"
                                            "output charge_mg per cylinder and cycle\n"});
  return &table;
}
// [/entry]

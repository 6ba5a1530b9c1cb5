// SPDX-License-Identifier: MIT
// Plugin: one mass of fuel to a mass for each cylinder, by a trim map each.
#include <array>
#include <cstddef>
#include <string>
#include <utility>
#include <vector>

#include "fettle/map/interpolate.hpp"
#include "plugin.hpp"

namespace {

class trim {
 public:
  explicit trim(const plugin::settings& given) {
    for (std::size_t cylinder = 1; given.has_map(name_of(cylinder)); ++cylinder) {
      trims_.push_back(given.map(name_of(cylinder), 2, 2));
      if (trims_.back().axis_names != trims_.front().axis_names ||
          trims_.back().table.axes() != trims_.front().table.axes())
        throw plugin::refusal("the map " + name_of(cylinder) + " must have the axes and breakpoints of trim_1");
    }
    if (trims_.empty()) throw plugin::refusal("needs the maps trim_1, trim_2 and so on, one per cylinder");
  }

  [[nodiscard]] std::vector<std::string> inputs() const {
    return {trims_[0].axis_names[0], trims_[0].axis_names[1], "mass_mg"};
  }
  [[nodiscard]] std::vector<std::string> outputs() const {
    std::vector<std::string> names;
    for (std::size_t cylinder = 1; cylinder <= trims_.size(); ++cylinder)
      names.push_back("mass_" + std::to_string(cylinder) + "_mg");
    return names;
  }

  void run(const double* const* in, double* const* out, std::size_t rows) const noexcept {
    const auto axes = trims_[0].table.view<2>().axes;
    for (std::size_t row = 0; row < rows; ++row) {
      // [trim]
      const std::array<fettle::place<double>, 2> at{fettle::locate(axes[0], in[0][row]),
                                                    fettle::locate(axes[1], in[1][row])};
      for (std::size_t i = 0; i < trims_.size(); ++i)
        out[i][row] = in[2][row] * fettle::interpolate(trims_[i].table.view<2>(), at);
      // [/trim]
    }
  }

 private:
  [[nodiscard]] static std::string name_of(std::size_t cylinder) { return "trim_" + std::to_string(cylinder); }

  std::vector<plugin::named_map> trims_;
};

}  // namespace

const fettle_plugin_table* fettle_plugin() {
  static constexpr fettle_plugin_table table =
      plugin::table_of<trim>({.name = "trim",
                              .version = "1.0",
                              .purpose = "shares fuel out to the cylinders by a map of trim factors each",
                              .usage = "maps trim_1, trim_2, ...: two axes, the same for all; 1 is no trim\n"
                                       "inputs: the axes of the trims, mass_mg per cylinder and cycle\n"
                                       "outputs mass_1_mg, mass_2_mg, ...\n"});
  return &table;
}

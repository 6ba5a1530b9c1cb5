// SPDX-License-Identifier: MIT
// Plugin: a map of one to three axes, times a map of correction factors where one is given.
#include <algorithm>
#include <array>
#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "fettle/map/batch.hpp"
#include "fettle/map/dynamic_table.hpp"
#include "plugin.hpp"

namespace {

class look_up {
 public:
  explicit look_up(const plugin::settings& given) : map_(given.map("map", 1, 3)) {
    if (!given.has_map("correction")) return;
    correction_ = given.map("correction", map_.table.rank(), map_.table.rank());
    if (correction_->axis_names != map_.axis_names)
      throw plugin::refusal("the map correction must have the axes of the map, in the same order");
  }

  [[nodiscard]] std::vector<std::string> inputs() const { return map_.axis_names; }
  [[nodiscard]] std::vector<std::string> outputs() const { return {"value"}; }

  void run(const double* const* inputs, double* const* outputs, std::size_t rows) const noexcept {
    fettle::visit_rank(map_.table, [&]<std::size_t R>(const fettle::map_view<R, double>& map) {
      if constexpr (R > 0) read(map, inputs, outputs[0], rows);
    });
  }

 private:
  template <std::size_t R>
  void read(const fettle::map_view<R, double>& map, const double* const* inputs, double* out,
            std::size_t rows) const noexcept {
    std::array<const double*, R> at{};
    for (std::size_t a = 0; a < R; ++a) at[a] = inputs[a];
    fettle::interpolate_list(map, at, rows, out);
    if (!correction_) return;
    const auto factors = correction_->table.view<R>();
    std::array<double, 256> factor;  // block by block: no heap, and it stays in the nearest cache
    for (std::size_t from = 0; from < rows; from += factor.size()) {
      const std::size_t count = (std::min)(factor.size(), rows - from);
      fettle::interpolate_list(factors, at, count, factor.data());
      for (std::size_t i = 0; i < count; ++i) out[from + i] *= factor[i];
      for (auto& column : at) column += count;
    }
  }

  plugin::named_map map_;
  std::optional<plugin::named_map> correction_;
};

}  // namespace

const fettle_plugin_table* fettle_plugin() {
  static constexpr fettle_plugin_table table =
      plugin::table_of<look_up>({.name = "look_up",
                                 .version = "1.0",
                                 .purpose = "reads a map, multilinear, ends held, times a map of corrections",
                                 .usage = "map map: one to three axes\n"
                                          "map correction: optional, factors over the same axes, its own breakpoints\n"
                                          "inputs: the axes of the map\n"
                                          "output value: in the unit of the map\n"});
  return &table;
}

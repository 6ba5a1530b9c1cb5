// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <utility>
#include <vector>

#include "fettle/error.hpp"
#include "fettle/map/dynamic_table.hpp"

namespace fettle {

/// A map made from numbers, with the uncertainty of every cell.
struct fitted_map {
  dynamic_table<double> table;
  std::vector<double> standard_error;     ///< per cell; infinite for a cell that nothing determines
  std::vector<std::size_t> undetermined;  ///< those cells: they keep the value they had before, or zero
  std::vector<double> strength;           ///< of smoothing, per axis, as used
  double effective_parameters = 0;
  double noise = 0;  ///< standard deviation of a value of weight 1

  /// Whether every cell was determined; if not, `undetermined` names the others.
  [[nodiscard]] bool is_determined() const noexcept { return undetermined.empty(); }
};

namespace detail {

[[nodiscard]] inline dynamic_table<double> table_of(std::vector<dynamic_axis<double>> axes,
                                                    std::vector<double> values) {
  auto table = dynamic_table<double>::from(std::move(axes), std::move(values));
  if (!table) throw error("table: the number of values is not the product of the axis sizes");
  return *std::move(table);
}

}  // namespace detail
}  // namespace fettle

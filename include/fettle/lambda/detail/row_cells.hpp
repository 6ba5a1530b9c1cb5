// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <vector>

#include "fettle/lambda/recording.hpp"
#include "fettle/map/dynamic_table.hpp"
#include "fettle/map/stencil.hpp"

namespace fettle::detail {

/// The cells around each row of a log and their shares in the map's value there, omega_k = w_k V_k / V(x).
class row_cells {
 public:
  row_cells() = default;

  /// @param source  the row whose coordinates stand for each row.
  row_cells(const recording& log, const dynamic_table<double>& base, const std::vector<std::size_t>& source)
      : corners_{std::size_t{1} << base.rank()}, cell_(log.rows() * corners_), share_(log.rows() * corners_) {
    if (base.rank() == 1)
      prepare<1>(log, base, source);
    else if (base.rank() == 2)
      prepare<2>(log, base, source);
    else
      prepare<3>(log, base, source);
  }

  /// Calls use(cell, share) for the cells around a row.
  template <class Use>
  void for_each(std::size_t row, Use&& use) const {
    for (std::size_t k = row * corners_; k < (row + 1) * corners_; ++k) use(cell_[k], share_[k]);
  }

 private:
  template <std::size_t R>
  void prepare(const recording& log, const dynamic_table<double>& base, const std::vector<std::size_t>& source) {
    const auto map = base.view<R>();
    for (std::size_t i = 0; i < log.rows(); ++i) {
      std::array<place<double>, R> places{};
      for (std::size_t a = 0; a < R; ++a) {
        const double x = log.at[a][source[i]];
        places[a] = locate(map.axes[a], std::isfinite(x) ? x : map.axes[a].points[0]);
      }
      const auto weights = stencil_at(map.axes, places);
      double value = 0;
      for (std::size_t k = 0; k < corners_; ++k) value += weights.weight[k] * map.values[weights.cell[k]];
      for (std::size_t k = 0; k < corners_; ++k) {
        cell_[i * corners_ + k] = static_cast<std::uint32_t>(weights.cell[k]);
        share_[i * corners_ + k] = weights.weight[k] * map.values[weights.cell[k]] / value;
      }
    }
  }

  std::size_t corners_ = 1;
  std::vector<std::uint32_t> cell_;  // corners_ a row
  std::vector<double> share_;
};

}  // namespace fettle::detail

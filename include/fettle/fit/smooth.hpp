// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "fettle/error.hpp"
#include "fettle/fit/cell_text.hpp"
#include "fettle/fit/conclude.hpp"
#include "fettle/fit/detail/limited_squares.hpp"
#include "fettle/fit/fitted_map.hpp"
#include "fettle/fit/map_model.hpp"
#include "fettle/fit/penalised_system.hpp"
#include "fettle/fit/smoothness.hpp"
#include "fettle/fit/strengths.hpp"
#include "fettle/map/dynamic_table.hpp"

namespace fettle {

struct smooth_options {
  smoothness smooth = criterion::reml;
  std::vector<double> standard_error{};  ///< per cell, of its value; or empty: all alike, not known
  std::vector<std::size_t> cells{};      ///< those that may move, or empty: all
  double most_errors = 2;                ///< no cell moves further than this many of its standard errors
};

namespace detail {

/// The smooth surface through the cells of a map, each weighted by its standard error; a NaN cell has no value.
class surface {
 public:
  surface(const dynamic_table<double>& table, const std::vector<double>& standard_error, const smoothness& how)
      : model_{std::vector<map_term>{term_for(table.axes(), how)}}, seen_{table.size()} {
    if (!standard_error.empty() && standard_error.size() != table.size())
      throw error("smooth: give a standard error for every cell or none");
    for (std::size_t k = 0; k < table.size(); ++k) {
      const double value = table.values()[k], sigma = standard_error.empty() ? 1.0 : standard_error[k];
      if (!(sigma > 0))
        throw error("smooth: the standard error of " + cell_text(table.axes(), k) + " is " + short_text(sigma) +
                    "; it must be positive, or infinite for a value that means nothing");
      if (std::isinf(value)) throw error("smooth: " + cell_text(table.axes(), k) + " is infinite");
      if (std::isnan(value) || std::isinf(sigma)) continue;
      const auto cell = static_cast<std::uint32_t>(k);
      const double share = 1;
      seen_.add(std::span(&cell, 1), std::span(&share, 1), value, 1 / (sigma * sigma));
    }
    if (const auto* rule = std::get_if<criterion>(&how)) model_ = choose_strengths(model_, seen_, *rule).model;
  }

  /// The surface; a cell that it does not determine gets the value given here.
  [[nodiscard]] fitted_map fit(const dynamic_table<double>& table, std::span<const double> otherwise,
                               const std::vector<double>& standard_error) {
    map_term term = model_.terms().front();
    term.prior.assign(otherwise.begin(), otherwise.end());
    model_ = map_model({std::move(term)});
    system_.emplace(model_.terms(), seen_);
    system_->solve(model_.strengths());
    double squares = 0;  // cell by cell: their difference from the surface may be far below rounding of y'Wy
    for (std::size_t k = 0; k < table.size(); ++k)
      if (seen_.weight(k) > 0)
        squares += seen_.weight(k) * std::pow(table.values()[k] - system_->cells()[static_cast<Eigen::Index>(k)], 2);
    map_fit cells = conclude(*system_, squares);
    // Errors that were given are not made smaller because the surface happens to pass close by.
    const bool given = !standard_error.empty();
    double variance = cells.noise_variance;
    if (given) variance = std::isfinite(variance) ? (std::max)(variance, 1.0) : 1.0;
    const Eigen::VectorXd spread = system_->variance();
    for (std::size_t k = 0; k < table.size(); ++k)
      if (std::isfinite(cells.standard_error[k]) || cells.undetermined.empty())
        cells.standard_error[k] = std::sqrt(variance * spread[static_cast<Eigen::Index>(k)]);
    for (const std::size_t k : cells.undetermined) cells.standard_error[k] = std::numeric_limits<double>::infinity();
    return {.table = table_of(table.axes(), std::move(cells.value)),
            .standard_error = std::move(cells.standard_error),
            .undetermined = std::move(cells.undetermined),
            .strength = model_.strengths(),
            .effective_parameters = cells.effective_parameters,
            .noise = std::sqrt(variance)};
  }

  /// The same least squares with some cells at given values and the others within bounds.
  void fit_within(std::span<double> value, const std::vector<double>& reach, std::span<const double> around) const {
    std::vector<std::uint32_t> free_index(value.size());
    std::vector<std::uint32_t> free;
    for (std::size_t k = 0; k < value.size(); ++k) {
      free_index[k] = static_cast<std::uint32_t>(free.size());
      if (reach[k] > 0)
        free.push_back(static_cast<std::uint32_t>(k));
      else
        value[k] = around[k];
    }
    if (free.empty()) return;
    quadratic goal{.entries = {}, .right = Eigen::VectorXd(static_cast<Eigen::Index>(free.size()))};
    for (std::size_t i = 0; i < free.size(); ++i)
      goal.right[static_cast<Eigen::Index>(i)] = system_->right()[static_cast<Eigen::Index>(free[i])];
    system_->for_each_entry([&](std::uint32_t row, std::uint32_t column, double entry) {
      const bool row_free = reach[row] > 0, column_free = reach[column] > 0;
      if (row_free && column_free) goal.entries.push_back({free_index[row], free_index[column], entry});
      if (row_free && !column_free) goal.right[free_index[row]] -= entry * around[column];
      if (column_free && !row_free) goal.right[free_index[column]] -= entry * around[row];
    });
    std::vector<linear_limit> limits;
    for (std::size_t i = 0; i < free.size(); ++i) {
      if (!std::isfinite(reach[free[i]])) continue;
      const auto cell = static_cast<std::uint32_t>(i);
      limits.push_back({{cell, cell, cell}, {1, 0, 0}, around[free[i]] - reach[free[i]]});
      limits.push_back({{cell, cell, cell}, {-1, 0, 0}, -around[free[i]] - reach[free[i]]});
    }
    const limited_optimum optimum = limited_squares(std::move(goal), std::move(limits)).solve();
    for (std::size_t i = 0; i < free.size(); ++i) {
      const std::size_t k = free[i];
      value[k] = std::clamp(optimum.cells[static_cast<Eigen::Index>(i)], around[k] - reach[k], around[k] + reach[k]);
    }
  }

 private:
  map_model model_;
  evidence seen_;
  std::optional<penalised_system> system_;
};

}  // namespace detail

/// Smooths a map, each cell weighted by its standard error, and gives the standard errors that result.
///
/// A cell of small error moves little, one of large error follows its neighbours; straight lines and planes stay as they
/// are.
/// Cells outside the selection stay to the bit, and the others join them smoothly. Where no standard errors are given,
/// the scatter of the cells about the surface stands for all of them.
///
/// Errors: `fettle::error` names a cell that is not finite (`fill` it first) or whose standard error is not positive.
///         Cells that nothing determines are listed and stay as they were.
/// Source: the penalised least squares of `map_model`, on one sample a cell.
/// Cost:   `choose_strengths` and a factorisation; some 20 more if a cell comes to its limit or cells were selected.
[[nodiscard]] inline fitted_map smooth(const dynamic_table<double>& table, const smooth_options& options = {}) {
  for (std::size_t k = 0; k < table.size(); ++k)
    if (std::isnan(table.values()[k]))
      throw error("smooth: " + cell_text(table.axes(), k) + " is not a number; fill the map first");
  if (!(options.most_errors >= 0)) throw error("smooth: a cell must be allowed to move by zero errors or more");
  detail::surface surface(table, options.standard_error, options.smooth);
  fitted_map result = surface.fit(table, table.values(), options.standard_error);

  const auto own_error = [&](std::size_t k) {
    return options.standard_error.empty() ? result.noise : options.standard_error[k];
  };
  std::vector<double> reach(table.size(), options.cells.empty() ? 1.0 : 0.0);
  for (const std::size_t k : options.cells) {
    if (k >= table.size()) throw error("smooth: there is no cell " + std::to_string(k) + " to select");
    reach[k] = 1;
  }
  bool limited = !options.cells.empty();
  for (std::size_t k = 0; k < table.size(); ++k) {
    if (reach[k] > 0 && std::isfinite(options.most_errors))
      reach[k] = options.most_errors * own_error(k);
    else if (reach[k] > 0)
      reach[k] = std::numeric_limits<double>::infinity();
    if (std::isnan(reach[k])) reach[k] = 0;  // zero times infinity: may not move
    limited = limited || std::abs(result.table.values()[k] - table.values()[k]) > reach[k];
  }
  for (const std::size_t k : result.undetermined) reach[k] = 0;
  if (limited) surface.fit_within(result.table.values(), reach, table.values());
  for (std::size_t k = 0; k < table.size(); ++k)
    if (reach[k] == 0 && std::isfinite(result.standard_error[k])) result.standard_error[k] = own_error(k);
  return result;
}

}  // namespace fettle

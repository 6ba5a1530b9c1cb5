// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "fettle/error.hpp"
#include "fettle/fit/conclude.hpp"
#include "fettle/fit/map_fit.hpp"
#include "fettle/fit/map_term.hpp"
#include "fettle/fit/penalised_system.hpp"
#include "fettle/fit/sample_rows.hpp"
#include "fettle/map/dynamic_stencil.hpp"

namespace fettle {

/// The model behind every map that fettle makes: y_i = sum over terms of factor_i * table(x_i) + noise.
///
/// Source: penalised least squares with one quadratic penalty an axis: P. H. C. Eilers, B. D. Marx, "Flexible smoothing
///         with B-splines and penalties", Statist. Sci. 11 (1996) 89-121, here with hat functions for the B-splines and
///         the penalties of `roughness` (from memory).
/// Shape: the cells of all terms form one vector; `offset(term)` is where a term begins.
/// Errors: `fettle::error` when a term's parts do not fit its axes.
class map_model {
 public:
  explicit map_model(std::vector<map_term> terms) : terms_{std::move(terms)} {
    for (std::size_t g = 0; g < terms_.size(); ++g) {
      check(g);
      offset_.push_back(cells_);
      cells_ += terms_[g].size();
    }
  }

  [[nodiscard]] std::size_t cells() const noexcept { return cells_; }
  [[nodiscard]] std::size_t offset(std::size_t term) const noexcept { return offset_[term]; }
  [[nodiscard]] const std::vector<map_term>& terms() const noexcept { return terms_; }

  /// Adds to the row being written: factor * term(x), by the term's own interpolation weights.
  void put(sample_rows& rows, std::size_t term, double factor, std::span<const double> x) const {
    const auto stencil = stencil_at(terms_[term].axes, x);
    for (std::size_t k = 0; k < stencil.size; ++k)
      if (stencil.weight[k] != 0) rows.put(offset_[term] + stencil.cell[k], factor * stencil.weight[k]);
  }

  /// The same model with other smoothing strengths: one number per smoothed axis, terms and axes in order.
  [[nodiscard]] map_model with_strengths(std::span<const double> strength) const {
    map_model result = *this;
    std::size_t next = 0;
    for (auto& term : result.terms_)
      for (auto& smooth : term.smooth) smooth.strength = strength[next++];
    return result;
  }

  [[nodiscard]] std::vector<double> strengths() const {
    std::vector<double> result;
    for (const auto& term : terms_)
      for (const auto& smooth : term.smooth) result.push_back(smooth.strength);
    return result;
  }

  /// Best cells for the evidence: minimises weighted squares + roughness + pull.
  ///
  /// Errors: never NaN. Cells that nothing determines are listed, stay at their prior and get an infinite error.
  /// Cost:   one Cholesky factorisation inside the envelope of the cells that samples and smoothing bring together.
  [[nodiscard]] map_fit solve(const evidence& seen) const {
    penalised_system system(terms_, seen);
    system.solve(strengths());
    return conclude(system, system.weighted_squares());
  }

 private:
  void check(std::size_t g) const {
    const map_term& term = terms_[g];
    const std::string name = "map_model: term " + std::to_string(g);
    if (term.axes.size() > 3) throw error(name + " has more than three axes");
    if (!term.smooth.empty() && term.smooth.size() != term.axes.size())
      throw error(name + ": give smoothing for every axis or none");
    for (std::size_t a = 0; a < term.smooth.size(); ++a) {
      const auto points = static_cast<Eigen::Index>(term.axes[a].size());
      if (term.smooth[a].rough.matrix.rows() != points || !(term.smooth[a].strength >= 0))
        throw error(name + ", axis " + std::to_string(a) +
                    ": smoothing needs a matrix of the axis's size and a strength >= 0");
    }
    if (!term.prior.empty() && term.prior.size() != term.size())
      throw error(name + ": give a prior for every cell or none");
    if (!term.pull.empty() && term.pull.size() != term.size())
      throw error(name + ": give a pull for every cell or none");
  }

  std::vector<map_term> terms_;
  std::vector<std::size_t> offset_;
  std::size_t cells_ = 0;
};

}  // namespace fettle

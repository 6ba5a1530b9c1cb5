// SPDX-License-Identifier: MIT
#pragma once

#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <span>
#include <utility>
#include <vector>

#include "fettle/error.hpp"
#include "fettle/fit/detail/cell_order.hpp"
#include "fettle/fit/detail/spd_factor.hpp"
#include "fettle/fit/detail/symmetric_entries.hpp"
#include "fettle/fit/evidence.hpp"
#include "fettle/fit/map_term.hpp"

namespace fettle {

/// The penalised normal equations of a model and its evidence, for any smoothing strengths: M z = right, where M is
/// B'WB + sum of strength_j S_j + diag(pull).
///
/// A strength whose penalty outweighs the samples `stiffest` times acts as that: the surface is as good as flat by then,
/// and a larger number would only drown the samples in rounding.
///
/// Errors: `fettle::error` when the evidence has another number of cells than the terms.
class penalised_system {
 public:
  penalised_system(const std::vector<map_term>& terms, const evidence& seen)
      : square_{seen.square()}, samples_{static_cast<double>(seen.samples())} {
    std::vector<std::size_t> sizes;
    std::size_t cells = 0;
    for (const map_term& term : terms) {
      for (std::size_t a = 0; a < term.smooth.size(); ++a) penalty_.push_back(detail::penalty_of(term, a, cells));
      sizes.push_back(term.size());
      cells += term.size();
    }
    if (seen.cells() != cells) throw error("map_model: the evidence is about another number of cells");
    moment_.resize(static_cast<Eigen::Index>(cells));
    std::copy(seen.moment().begin(), seen.moment().end(), moment_.data());
    seen.for_each_entry([&](std::size_t row, std::size_t column, double value) { data_.put(row, column, value); });
    take_priors(terms);
    lay_out(sizes);
    double known = data_.trace();
    for (Eigen::Index k = 0; k < pull_.size(); ++k) known += pull_[k];
    for (const auto& penalty : penalty_) {
      const double stiff = penalty.trace();
      unit_.push_back(known > 0 && stiff > 0 ? known / stiff : 1.0);
    }
  }

  /// Solves for the cells at these strengths.
  void solve(std::span<const double> strength) {
    strength_.assign(strength.begin(), strength.end());
    for (std::size_t j = 0; j < strength_.size(); ++j) strength_[j] = (std::min)(strength_[j], stiffest * unit_[j]);
    scale_ = pull_;
    data_.add_diagonal(scale_, 1);
    for (std::size_t j = 0; j < penalty_.size(); ++j) penalty_[j].add_diagonal(scale_, strength_[j]);
    assemble(0);
    singular_ = factor_.smallest_pivot() < singular_below;
    cells_ = right_;
    if (singular_) {  // pull everything to its prior, as weakly as rounding allows, to see which cells nothing else fixes
      for (Eigen::Index k = 0; k < scale_.size(); ++k) {
        if (!(scale_[k] > 0)) scale_[k] = 1;
        cells_[k] += weak_pull * scale_[k] * prior_[k];
      }
      assemble(weak_pull);
    }
    cells_ = solved(cells_);
  }

  /// One step of iterative refinement. The gradient B'W(y - Bz), formed from the samples themselves, shows what
  /// rounding in the normal equations has cost.
  void refine(const Eigen::VectorXd& sample_gradient) {
    Eigen::VectorXd gradient = sample_gradient;
    for (Eigen::Index k = 0; k < gradient.size(); ++k) gradient[k] -= pull_[k] * (cells_[k] - prior_[k]);
    for (std::size_t j = 0; j < penalty_.size(); ++j) {
      const Eigen::VectorXd force = penalty_[j].times(cells_);
      for (Eigen::Index k = 0; k < gradient.size(); ++k) gradient[k] -= strength_[j] * force[k];
    }
    const Eigen::VectorXd step = solved(gradient);
    for (Eigen::Index k = 0; k < step.size(); ++k) cells_[k] += step[k];
  }

  [[nodiscard]] const Eigen::VectorXd& cells() const noexcept { return cells_; }
  [[nodiscard]] const Eigen::VectorXd& prior() const noexcept { return prior_; }
  [[nodiscard]] const Eigen::VectorXd& right() const noexcept { return right_; }
  [[nodiscard]] double samples() const noexcept { return samples_; }
  [[nodiscard]] double samples_and_priors() const noexcept { return samples_ + pulled_; }
  [[nodiscard]] double log_determinant() const { return factor_.log_determinant(); }
  /// The strength at which penalty j weighs as much as samples and priors, the natural unit of its search.
  [[nodiscard]] double unit_strength(std::size_t j) const noexcept { return unit_[j]; }

  /// Sum of weight * residual^2 of the samples.
  [[nodiscard]] double weighted_squares() const {
    double product = 0;
    for (Eigen::Index k = 0; k < cells_.size(); ++k) product += moment_[k] * cells_[k];
    return (std::max)(0.0, square_ - 2 * product + data_.form(cells_));
  }
  /// Squares of the samples, strength times z'S_j z, and the pull: what the solution minimises.
  [[nodiscard]] double penalised_squares() const {
    double sum = weighted_squares();
    for (Eigen::Index k = 0; k < cells_.size(); ++k)
      sum += pull_[k] * (cells_[k] - prior_[k]) * (cells_[k] - prior_[k]);
    for (std::size_t j = 0; j < penalty_.size(); ++j) sum += strength_[j] * roughness(j);
    return sum;
  }
  /// z'S_j z at strength 1.
  [[nodiscard]] double roughness(std::size_t j) const { return penalty_[j].form(cells_); }
  /// tr(M^-1 S_j) at strength 1.
  [[nodiscard]] double influence(std::size_t j) {
    const std::vector<double>& inverse = factor_.inverse();
    double sum = 0;
    for (const auto& e : penalty_[j].entries) sum += (e.row == e.column ? 1 : 2) * e.value * inverse[e.slot];
    return sum;
  }
  /// Diagonal of M^-1: the variance of every cell in units of the noise variance.
  /// Source: the Bayesian covariance of a penalised fit, G. Wahba, J. R. Statist. Soc. B 45 (1983) 133-150 (from
  ///         memory).
  [[nodiscard]] Eigen::VectorXd variance() {
    const std::vector<double>& inverse = factor_.inverse();
    Eigen::VectorXd result(pull_.size());
    for (Eigen::Index k = 0; k < result.size(); ++k) {
      const std::size_t at = order_.position[static_cast<std::size_t>(k)];
      result[k] = inverse[factor_.slot(at, at)];
    }
    return result;
  }

  /// Trace of the samples' influence: the number of cells less what penalties and priors determine.
  [[nodiscard]] double effective_parameters() {
    const Eigen::VectorXd spread = variance();
    double fixed = 0, floating = 0;
    for (Eigen::Index k = 0; k < spread.size(); ++k) {
      fixed += pull_[k] * spread[k];
      floating += weak_pull * scale_[k] * spread[k];
    }
    if (singular_) fixed += std::round(floating);  // whole directions that nothing determines
    for (std::size_t j = 0; j < penalty_.size(); ++j)
      if (strength_[j] > 0) fixed += strength_[j] * influence(j);
    return static_cast<double>(cells_.size()) - fixed;
  }

  /// Cells whose variance is bounded by the weak pull alone.
  [[nodiscard]] std::vector<std::size_t> undetermined() {
    std::vector<std::size_t> result;
    if (!singular_) return result;
    const Eigen::VectorXd spread = variance();
    for (Eigen::Index k = 0; k < spread.size(); ++k)
      if (spread[k] * scale_[k] * weak_pull > floating_share) result.push_back(static_cast<std::size_t>(k));
    return result;
  }

  /// The change of the cells for a small change of all samples: M^-1 B'W change.
  [[nodiscard]] Eigen::VectorXd response(const Eigen::VectorXd& weighted_change) const {
    return solved(weighted_change);
  }

  /// M entry by entry: calls use(row, column, value) for its lower triangle, the parts of an entry one by one.
  template <class Use>
  void for_each_entry(Use&& use) const {
    for (const auto& e : data_.entries) use(e.row, e.column, e.value);
    for (std::size_t j = 0; j < penalty_.size(); ++j)
      for (const auto& e : penalty_[j].entries) use(e.row, e.column, strength_[j] * e.value);
    for (Eigen::Index k = 0; k < pull_.size(); ++k)
      use(static_cast<std::uint32_t>(k), static_cast<std::uint32_t>(k), pull_[k]);
  }

  static constexpr double stiffest = 1e9;  // rounding of the matrix reaches 1e-16 of its diagonal
  static constexpr double loosest = 1e-7;  // where a search stops: less would leave nothing to estimate the noise from

 private:
  // Priors are samples of their own: they count in the score, and their squares in the penalty.
  void take_priors(const std::vector<map_term>& terms) {
    right_ = moment_;
    pull_ = prior_ = Eigen::VectorXd::Zero(moment_.size());
    Eigen::Index k = 0;
    for (const map_term& term : terms)
      for (std::size_t c = 0; c < term.size(); ++c, ++k) {
        if (!term.prior.empty()) prior_[k] = term.prior[c];
        if (!term.pull.empty()) pull_[k] = term.pull[c];
        right_[k] += pull_[k] * prior_[k];
        pulled_ += pull_[k] > 0 ? 1 : 0;
      }
  }

  // Terms that share samples are laid side by side if that makes the envelope smaller than one after the other.
  void lay_out(const std::vector<std::size_t>& term_sizes) {
    const auto matrices = [this](auto&& use) {
      use(data_);
      for (auto& penalty : penalty_) use(penalty);
    };
    order_ = detail::order_cells(term_sizes, false, matrices);
    if (term_sizes.size() > 1) {
      auto together = detail::order_cells(term_sizes, true, matrices);
      if (together.work() < order_.work()) order_ = std::move(together);
    }
    factor_.lay_out(order_.first);
    matrices([&](detail::symmetric_entries& matrix) {
      for (auto& e : matrix.entries) {
        const std::size_t a = order_.position[e.row], b = order_.position[e.column];
        e.slot = factor_.slot((std::max)(a, b), (std::min)(a, b));
      }
    });
  }

  void assemble(double weak) {
    factor_.clear();
    for (const auto& e : data_.entries) factor_.add(e.slot, e.value);
    for (std::size_t j = 0; j < penalty_.size(); ++j)
      if (strength_[j] > 0)
        for (const auto& e : penalty_[j].entries) factor_.add(e.slot, strength_[j] * e.value);
    for (Eigen::Index k = 0; k < pull_.size(); ++k) {
      const std::size_t at = order_.position[static_cast<std::size_t>(k)];
      factor_.add(factor_.slot(at, at), pull_[k] + weak * scale_[k]);
    }
    factor_.factor();
  }

  // M^-1 x.
  [[nodiscard]] Eigen::VectorXd solved(const Eigen::VectorXd& x) const {
    std::vector<double> ordered(static_cast<std::size_t>(x.size()));
    for (Eigen::Index k = 0; k < x.size(); ++k) ordered[order_.position[static_cast<std::size_t>(k)]] = x[k];
    factor_.solve(ordered);
    Eigen::VectorXd result(x.size());
    for (Eigen::Index k = 0; k < x.size(); ++k) result[k] = ordered[order_.position[static_cast<std::size_t>(k)]];
    return result;
  }

  static constexpr double singular_below = 1e-12;  // 1 - R^2 of a cell: rounding of the matrix itself reaches 1e-14
  static constexpr double weak_pull = 1e-10;       // of the diagonal: far below any evidence, far above rounding
  static constexpr double floating_share = 1e-3;   // of the weak pull's own variance

  detail::symmetric_entries data_;
  std::vector<detail::symmetric_entries> penalty_;
  Eigen::VectorXd moment_, right_, pull_, prior_, cells_, scale_;
  std::vector<double> strength_, unit_;
  detail::cell_order order_;
  double square_, samples_, pulled_ = 0;
  bool singular_ = false;
  detail::spd_factor factor_;
};

}  // namespace fettle

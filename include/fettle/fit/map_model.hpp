// SPDX-License-Identifier: MIT
#pragma once

#include <Eigen/Dense>
#include <Eigen/Sparse>
#include <array>
#include <cmath>
#include <cstddef>
#include <limits>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "fettle/error.hpp"
#include "fettle/fit/evidence.hpp"
#include "fettle/fit/roughness.hpp"
#include "fettle/fit/sample_rows.hpp"
#include "fettle/fit/spd_factor.hpp"
#include "fettle/map/dynamic_table.hpp"
#include "fettle/map/stencil.hpp"

namespace fettle {

/// Smoothing along one axis of an unknown table: strength * sum over the lines along the axis of z'Kz.
struct smoothing {
  roughness rough;
  double strength = 0;
};

/// One unknown table of a map model and what is believed of it before any sample.
struct map_term {
  std::vector<dynamic_axis<double>> axes;  ///< rank 0 (one number) to 3
  std::vector<smoothing> smooth{};         ///< one per axis, or empty: none
  std::vector<double> prior{};             ///< one per cell, or empty: zero
  std::vector<double> pull{};  ///< weight of the prior per cell, in the unit of the samples' weights, or empty: none

  [[nodiscard]] std::size_t size() const noexcept {
    std::size_t cells = 1;
    for (const auto& axis : axes) cells *= axis.size();
    return cells;
  }
};

/// A term smoothed along every axis by its curvature, one strength per axis.
///
/// The penalty is the mean over the lines along an axis of the integral of the squared second derivative over the axis
/// scaled to 0..1, so one number means the same on any grid.
[[nodiscard]] inline map_term smooth_term(std::vector<dynamic_axis<double>> axes, std::span<const double> strength) {
  if (strength.size() != axes.size()) throw error("smooth_term: give one smoothing strength per axis");
  map_term term{.axes = std::move(axes)};
  for (std::size_t i = 0; i < strength.size(); ++i) {
    roughness rough = curvature_roughness(term.axes[i]);
    rough.matrix *= static_cast<double>(term.axes[i].size()) / static_cast<double>(term.size());
    term.smooth.push_back({std::move(rough), strength[i]});
  }
  return term;
}

/// What a fit found, one entry per cell of the model, terms end to end.
struct map_fit {
  std::vector<double> value;
  std::vector<double> standard_error;     ///< infinite for a cell that nothing determines
  std::vector<std::size_t> undetermined;  ///< cells that neither samples nor priors pin down; their value is the prior
  double effective_parameters = 0;        ///< trace of the influence of the samples
  double weighted_squares = 0;            ///< sum of weight * residual^2
  double noise_variance = 0;              ///< of a sample of weight 1
  double samples = 0;

  /// Generalised cross-validation score, n rss / (n - edf)^2.
  /// Source: P. Craven, G. Wahba, Numer. Math. 31 (1979) 377-403, doi:10.1007/BF01404567.
  [[nodiscard]] double gcv() const noexcept {
    const double free = samples - effective_parameters;
    return samples * weighted_squares / (free * free);
  }
};

/// The model behind every map that fettle makes: y_i = sum over terms of factor_i * table(x_i) + noise.
///
/// Shape: the cells of all terms form one vector; `offset(term)` is where a term begins.
/// Errors: `fettle::error` when a term's parts do not fit its axes.
class map_model {
  using sparse = Eigen::SparseMatrix<double>;

 public:
  explicit map_model(std::vector<map_term> terms) : terms_{std::move(terms)} {
    for (std::size_t g = 0; g < terms_.size(); ++g) {
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
      offset_.push_back(cells_);
      cells_ += term.size();
    }
  }

  [[nodiscard]] std::size_t cells() const noexcept { return cells_; }
  [[nodiscard]] std::size_t offset(std::size_t term) const noexcept { return offset_[term]; }
  [[nodiscard]] const std::vector<map_term>& terms() const noexcept { return terms_; }

  /// Adds to the row being written: factor * term(x), by the term's own interpolation weights.
  void put(sample_rows& rows, std::size_t term, double factor, std::span<const double> x) const {
    switch (terms_[term].axes.size()) {
      case 0:
        rows.put(offset_[term], factor);
        break;
      case 1:
        put_rank<1>(rows, term, factor, x);
        break;
      case 2:
        put_rank<2>(rows, term, factor, x);
        break;
      default:
        put_rank<3>(rows, term, factor, x);
        break;
    }
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

  /// The penalty matrix of one smoothed axis at strength 1, over all cells of the model, lower triangle.
  [[nodiscard]] std::vector<sparse> penalties() const {
    std::vector<sparse> result;
    for (std::size_t g = 0; g < terms_.size(); ++g)
      for (std::size_t a = 0; a < terms_[g].smooth.size(); ++a) result.push_back(penalty(g, a));
    return result;
  }

  /// Best cells for the evidence: minimises weighted squares + roughness + pull.
  ///
  /// Errors: never NaN. Cells that nothing pins down are listed, stay at their prior and get an infinite error.
  /// Cost:   one sparse (or, when rows are long, dense) Cholesky factorisation.
  [[nodiscard]] map_fit solve(const evidence& seen) const;

 private:
  template <std::size_t R>
  void put_rank(sample_rows& rows, std::size_t term, double factor, std::span<const double> x) const {
    std::array<axis_view<double>, R> axes{};
    std::array<place<double>, R> places{};
    for (std::size_t a = 0; a < R; ++a) {
      axes[a] = terms_[term].axes[a].view();
      places[a] = locate(axes[a], x[a]);
    }
    const auto weights = stencil_at(axes, places);
    for (std::size_t k = 0; k < weights.size; ++k)
      if (weights.weight[k] != 0) rows.put(offset_[term] + weights.cell[k], factor * weights.weight[k]);
  }

  [[nodiscard]] sparse penalty(std::size_t g, std::size_t axis) const {
    const map_term& term = terms_[g];
    const Eigen::MatrixXd& k = term.smooth[axis].rough.matrix;
    std::size_t inner = 1;  // cells between neighbours along the axis
    for (std::size_t a = axis + 1; a < term.axes.size(); ++a) inner *= term.axes[a].size();
    const std::size_t points = term.axes[axis].size(), outer = term.size() / (points * inner);
    std::vector<Eigen::Triplet<double, int>> entries;
    for (std::size_t o = 0; o < outer; ++o)
      for (std::size_t i = 0; i < points; ++i)
        for (std::size_t j = 0; j <= i; ++j) {
          const double value = k(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(j));
          if (value == 0) continue;
          for (std::size_t n = 0; n < inner; ++n)
            entries.emplace_back(static_cast<int>(offset_[g] + (o * points + i) * inner + n),
                                 static_cast<int>(offset_[g] + (o * points + j) * inner + n), value);
        }
    const auto n = static_cast<Eigen::Index>(cells_);
    sparse result(n, n);
    result.setFromTriplets(entries.begin(), entries.end());
    return result;
  }

  std::vector<map_term> terms_;
  std::vector<std::size_t> offset_;
  std::size_t cells_ = 0;
};

namespace detail {

/// The penalised normal equations of a model and its evidence, for any strengths: what `solve` and the search share.
class penalised_system {
  using sparse = Eigen::SparseMatrix<double>;

 public:
  penalised_system(const map_model& model, const evidence& seen)
      : penalty_{model.penalties()},
        data_{seen.normal_matrix()},
        square_{seen.square()},
        samples_{static_cast<double>(seen.samples())} {
    if (seen.cells() != model.cells()) throw error("map_model: the evidence is about another number of cells");
    const auto n = static_cast<Eigen::Index>(model.cells());
    moment_ = Eigen::Map<const Eigen::VectorXd>(seen.moment().data(), n);
    pull_ = Eigen::VectorXd::Zero(n);
    prior_ = Eigen::VectorXd::Zero(n);
    for (std::size_t g = 0; g < model.terms().size(); ++g) {
      const map_term& term = model.terms()[g];
      for (std::size_t c = 0; c < term.size(); ++c) {
        const auto k = static_cast<Eigen::Index>(model.offset(g) + c);
        if (!term.prior.empty()) prior_[k] = term.prior[c];
        if (!term.pull.empty()) pull_[k] = term.pull[c];
      }
    }
    // Priors are samples of their own: they count in the score, and their squares in the penalty.
    sparse pulls(n, n);
    pulls.setIdentity();
    pulls.diagonal() = pull_;
    base_ = data_ + pulls;
    right_ = moment_ + pull_.cwiseProduct(prior_);
    pulled_ = static_cast<double>((pull_.array() > 0).count());
  }

  /// Solves for the cells at these strengths.
  void solve(std::span<const double> strength) {
    sparse matrix = base_;
    for (std::size_t j = 0; j < penalty_.size(); ++j) matrix += strength[j] * penalty_[j];
    factor_.compute(matrix);
    singular_ = factor_.smallest_pivot() < singular_below;
    if (singular_) {  // hold what floats at its prior, as weakly as rounding allows, to find out what floats
      scale_ = matrix.diagonal();
      for (Eigen::Index k = 0; k < scale_.size(); ++k)
        if (!(scale_[k] > 0)) scale_[k] = 1;
      sparse hold(matrix.rows(), matrix.cols());
      hold.setIdentity();
      hold.diagonal() = hold_share * scale_;
      factor_.compute(matrix + hold);
      cells_ = factor_.solve(right_ + hold_share * scale_.cwiseProduct(prior_));
    } else {
      cells_ = factor_.solve(right_);
    }
  }

  /// One step of iterative refinement: B'W(y - Bz), formed from the samples themselves, tells what rounding in the
  /// normal equations has cost.
  void refine(const Eigen::VectorXd& sample_gradient, std::span<const double> strength) {
    Eigen::VectorXd gradient = sample_gradient - pull_.cwiseProduct(cells_ - prior_);
    for (std::size_t j = 0; j < penalty_.size(); ++j) gradient -= strength[j] * image(penalty_[j]);
    cells_ += factor_.solve(gradient);
  }

  [[nodiscard]] const Eigen::VectorXd& cells() const noexcept { return cells_; }
  [[nodiscard]] spd_factor& factor() noexcept { return factor_; }
  [[nodiscard]] std::size_t penalties() const noexcept { return penalty_.size(); }
  [[nodiscard]] double samples() const noexcept { return samples_; }
  [[nodiscard]] double samples_and_priors() const noexcept { return samples_ + pulled_; }

  /// Sum of weight * residual^2 of the samples.
  [[nodiscard]] double weighted_squares() const {
    return (std::max)(0.0, square_ - 2 * moment_.dot(cells_) + cells_.dot(image(data_)));
  }
  /// z'S_j z at strength 1.
  [[nodiscard]] double roughness(std::size_t j) const { return cells_.dot(image(penalty_[j])); }
  [[nodiscard]] double pull_squares() const { return (pull_.array() * (cells_ - prior_).array().square()).sum(); }
  /// tr(M^-1 S_j) at strength 1.
  [[nodiscard]] double influence(std::size_t j) { return factor_.inverse_trace(penalty_[j]); }

  /// Trace of the samples' influence: cells less what penalties and priors hold.
  [[nodiscard]] double effective_parameters(std::span<const double> strength) {
    double held = pull_.dot(factor_.inverse_diagonal());
    if (singular_) held += hold_share * scale_.dot(factor_.inverse_diagonal());
    for (std::size_t j = 0; j < penalty_.size(); ++j)
      if (strength[j] > 0) held += strength[j] * influence(j);
    return static_cast<double>(cells_.size()) - held;
  }

  /// Cells whose variance the weak hold alone bounds.
  [[nodiscard]] std::vector<std::size_t> undetermined() {
    std::vector<std::size_t> result;
    if (!singular_) return result;
    const Eigen::VectorXd variance = factor_.inverse_diagonal();
    for (Eigen::Index k = 0; k < variance.size(); ++k)
      if (variance[k] * scale_[k] * hold_share > floating_share) result.push_back(static_cast<std::size_t>(k));
    return result;
  }
  [[nodiscard]] const Eigen::VectorXd& prior() const noexcept { return prior_; }

  /// Covariance of the cells when the samples' errors hang together: M^-1 (scores + noise * (penalty + pull)) M^-1,
  /// where `scores` sums the outer products of the samples' gradients over blocks long enough to be independent.
  ///
  /// Source: P. J. Huber, Proc. 5th Berkeley Symp. 1 (1967) 221-233, for the samples' part; the penalty's part is that
  /// of
  ///         the Bayesian covariance.
  [[nodiscard]] Eigen::MatrixXd sandwich(const Eigen::MatrixXd& scores, double noise_variance,
                                         std::span<const double> strength) const {
    Eigen::MatrixXd middle = scores;
    middle.diagonal() += noise_variance * pull_;
    for (std::size_t j = 0; j < penalty_.size(); ++j)
      middle += noise_variance * strength[j] * Eigen::MatrixXd(sparse(penalty_[j].selfadjointView<Eigen::Lower>()));
    const Eigen::MatrixXd half = factor_.solve_all(middle);
    return factor_.solve_all(half.transpose());
  }

 private:
  [[nodiscard]] Eigen::VectorXd image(const sparse& lower) const {
    return lower.selfadjointView<Eigen::Lower>() * cells_;
  }

  static constexpr double singular_below = 1e-12;  // 1 - R^2 of a cell: rounding of the matrix itself reaches 1e-14
  static constexpr double hold_share = 1e-10;      // of the diagonal: far below any evidence, far above rounding
  static constexpr double floating_share = 1e-3;   // of the hold's own variance

  std::vector<sparse> penalty_;
  sparse data_, base_;
  Eigen::VectorXd moment_, right_, pull_, prior_, cells_, scale_;
  double square_, samples_, pulled_ = 0;
  bool singular_ = false;
  spd_factor factor_;
};

}  // namespace detail

namespace detail {

/// What a solved system says, cell by cell, given the samples' weighted squares.
[[nodiscard]] inline map_fit conclude(penalised_system& system, std::span<const double> strength, double squares) {
  map_fit result;
  result.undetermined = system.undetermined();
  result.samples = system.samples();
  result.effective_parameters = system.effective_parameters(strength);
  result.weighted_squares = squares;
  const double free = result.samples - result.effective_parameters;
  result.noise_variance = free > 0 ? result.weighted_squares / free : 0.0;
  const Eigen::VectorXd variance = result.noise_variance * system.factor().inverse_diagonal();
  result.value.assign(system.cells().begin(), system.cells().end());
  for (const double v : variance) result.standard_error.push_back(std::sqrt(v));
  for (const std::size_t cell : result.undetermined) {
    result.value[cell] = system.prior()[static_cast<Eigen::Index>(cell)];
    result.standard_error[cell] = std::numeric_limits<double>::infinity();
  }
  return result;
}

}  // namespace detail

inline map_fit map_model::solve(const evidence& seen) const {
  detail::penalised_system system(*this, seen);
  const std::vector<double> strength = strengths();
  system.solve(strength);
  return detail::conclude(system, strength, system.weighted_squares());
}

}  // namespace fettle

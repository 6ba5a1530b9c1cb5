// SPDX-License-Identifier: MIT
#pragma once

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
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
  double noise_variance = 0;              ///< of a sample of weight 1; infinite when no sample is left over to tell
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

  /// Calls use(row, column, value) for the lower triangle of the penalty of one smoothed axis at strength 1.
  template <class Use>
  void for_each_penalty_entry(std::size_t g, std::size_t axis, Use&& use) const {
    const map_term& term = terms_[g];
    const Eigen::MatrixXd& k = term.smooth[axis].rough.matrix;
    std::size_t inner = 1;  // cells between neighbours along the axis
    for (std::size_t a = axis + 1; a < term.axes.size(); ++a) inner *= term.axes[a].size();
    const std::size_t points = term.axes[axis].size(), outer = term.size() / (points * inner);
    for (std::size_t i = 0; i < points; ++i)
      for (std::size_t j = 0; j <= i; ++j) {
        const double value = k(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(j));
        if (value == 0) continue;
        for (std::size_t o = 0; o < outer; ++o)
          for (std::size_t n = 0; n < inner; ++n)
            use(offset_[g] + (o * points + i) * inner + n, offset_[g] + (o * points + j) * inner + n, value);
      }
  }

  /// Best cells for the evidence: minimises weighted squares + roughness + pull.
  ///
  /// Errors: never NaN. Cells that nothing pins down are listed, stay at their prior and get an infinite error.
  /// Cost:   one Cholesky factorisation inside the envelope of the cells that samples and smoothing bring together.
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

  std::vector<map_term> terms_;
  std::vector<std::size_t> offset_;
  std::size_t cells_ = 0;
};

namespace detail {

/// The penalised normal equations of a model and its evidence, for any strengths: what `solve` and the search share.
///
/// A strength so large that its penalty outweighs the samples `stiffest` times acts as that: the surface is as good as
/// flat by then, and a larger number would only drown the samples in rounding.
class penalised_system {
 public:
  penalised_system(const map_model& model, const evidence& seen)
      : square_{seen.square()}, samples_{static_cast<double>(seen.samples())} {
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
    seen.for_each_entry([&](std::size_t row, std::size_t column, double value) { data_.put(row, column, value); });
    for (std::size_t g = 0; g < model.terms().size(); ++g)
      for (std::size_t a = 0; a < model.terms()[g].smooth.size(); ++a)
        model.for_each_penalty_entry(
            g, a, [&penalty = penalty_.emplace_back()](std::size_t row, std::size_t column, double value) {
              penalty.put(row, column, value);
            });
    // Priors are samples of their own: they count in the score, and their squares in the penalty.
    right_ = moment_ + pull_.cwiseProduct(prior_);
    pulled_ = static_cast<double>((pull_.array() > 0).count());
    lay_out(model);
    const double known = (data_.diagonal(n) + pull_).sum();
    for (const auto& penalty : penalty_) {
      const double stiff = penalty.diagonal(n).sum();
      unit_.push_back(known > 0 && stiff > 0 ? known / stiff : 1.0);
    }
  }

  /// Solves for the cells at these strengths.
  void solve(std::span<const double> strength) {
    strength_.assign(strength.begin(), strength.end());
    for (std::size_t j = 0; j < strength_.size(); ++j) strength_[j] = (std::min)(strength_[j], stiffest * unit_[j]);
    scale_ = data_.diagonal(pull_.size()) + pull_;
    for (std::size_t j = 0; j < penalty_.size(); ++j) scale_ += strength_[j] * penalty_[j].diagonal(pull_.size());
    assemble(0);
    singular_ = factor_.smallest_pivot() < singular_below;
    if (singular_) {  // hold what floats at its prior, as weakly as rounding allows, to find out what floats
      scale_ = (scale_.array() > 0).select(scale_, 1.0);
      assemble(hold_share);
      cells_ = back(factor_.solve(ordered(right_ + hold_share * scale_.cwiseProduct(prior_))));
    } else {
      cells_ = back(factor_.solve(ordered(right_)));
    }
  }

  /// One step of iterative refinement: B'W(y - Bz), formed from the samples themselves, tells what rounding in the
  /// normal equations has cost.
  void refine(const Eigen::VectorXd& sample_gradient) {
    Eigen::VectorXd gradient = sample_gradient - pull_.cwiseProduct(cells_ - prior_);
    for (std::size_t j = 0; j < penalty_.size(); ++j) gradient -= strength_[j] * penalty_[j].times(cells_);
    cells_ += back(factor_.solve(ordered(gradient)));
  }

  [[nodiscard]] const Eigen::VectorXd& cells() const noexcept { return cells_; }
  [[nodiscard]] std::size_t penalties() const noexcept { return penalty_.size(); }
  [[nodiscard]] double samples() const noexcept { return samples_; }
  [[nodiscard]] double samples_and_priors() const noexcept { return samples_ + pulled_; }
  [[nodiscard]] double log_determinant() const { return factor_.log_determinant(); }
  /// The strength at which penalty j weighs as much as samples and priors, the natural unit of its search.
  [[nodiscard]] double unit_strength(std::size_t j) const noexcept { return unit_[j]; }

  /// Sum of weight * residual^2 of the samples.
  [[nodiscard]] double weighted_squares() const {
    return (std::max)(0.0, square_ - 2 * moment_.dot(cells_) + cells_.dot(data_.times(cells_)));
  }
  /// Strength times z'S_j z, summed, and the pull: what the penalties add to the squares.
  [[nodiscard]] double penalised_squares() const {
    double sum = weighted_squares() + (pull_.array() * (cells_ - prior_).array().square()).sum();
    for (std::size_t j = 0; j < penalty_.size(); ++j) sum += strength_[j] * roughness(j);
    return sum;
  }
  /// z'S_j z at strength 1.
  [[nodiscard]] double roughness(std::size_t j) const { return cells_.dot(penalty_[j].times(cells_)); }
  /// tr(M^-1 S_j) at strength 1.
  [[nodiscard]] double influence(std::size_t j) {
    const std::vector<double>& inverse = factor_.inverse();
    double sum = 0;
    for (const entry& e : penalty_[j].entries) sum += (e.row == e.column ? 1 : 2) * e.value * inverse[e.slot];
    return sum;
  }
  /// Diagonal of M^-1: the variance of every cell in units of the noise variance.
  [[nodiscard]] Eigen::VectorXd variance() {
    const std::vector<double>& inverse = factor_.inverse();
    Eigen::VectorXd result(pull_.size());
    for (Eigen::Index k = 0; k < result.size(); ++k) {
      const std::size_t at = position_[static_cast<std::size_t>(k)];
      result[k] = inverse[factor_.slot(at, at)];
    }
    return result;
  }

  /// Trace of the samples' influence: cells less what penalties and priors hold.
  [[nodiscard]] double effective_parameters() {
    double held = pull_.dot(variance());
    if (singular_) held += std::round(hold_share * scale_.dot(variance()));  // whole directions that float
    for (std::size_t j = 0; j < penalty_.size(); ++j)
      if (strength_[j] > 0) held += strength_[j] * influence(j);
    return static_cast<double>(cells_.size()) - held;
  }

  /// Cells whose variance the weak hold alone bounds.
  [[nodiscard]] std::vector<std::size_t> undetermined() {
    std::vector<std::size_t> result;
    if (!singular_) return result;
    const Eigen::VectorXd spread = variance();
    for (Eigen::Index k = 0; k < spread.size(); ++k)
      if (spread[k] * scale_[k] * hold_share > floating_share) result.push_back(static_cast<std::size_t>(k));
    return result;
  }
  [[nodiscard]] const Eigen::VectorXd& prior() const noexcept { return prior_; }

  /// Covariance of the cells when the samples' errors hang together: M^-1 (scores + noise * (penalty + pull)) M^-1,
  /// where `scores` sums the outer products of the samples' gradients over blocks long enough to be independent. No
  /// cell is surer than errors that do not hang together would make it: one whose readings all lie in one block has
  /// no gradient there, because it was fitted to them.
  ///
  /// Source: P. J. Huber, Proc. 5th Berkeley Symp. 1 (1967) 221-233, for the samples' part; the penalty's part is that
  ///         of the Bayesian covariance.
  [[nodiscard]] Eigen::MatrixXd sandwich(const Eigen::MatrixXd& scores, double noise_variance) {
    Eigen::MatrixXd middle = scores;
    middle.diagonal() += noise_variance * pull_;
    for (std::size_t j = 0; j < penalty_.size(); ++j)
      for (const entry& e : penalty_[j].entries) {
        middle(e.row, e.column) += noise_variance * strength_[j] * e.value;
        if (e.row != e.column) middle(e.column, e.row) += noise_variance * strength_[j] * e.value;
      }
    const Eigen::MatrixXd half = solved_columns(middle).transpose();
    const Eigen::MatrixXd result = solved_columns(half);
    const Eigen::VectorXd least = noise_variance * variance();
    Eigen::VectorXd widening = Eigen::VectorXd::Ones(least.size());
    for (Eigen::Index k = 0; k < least.size(); ++k)
      if (result(k, k) < least[k]) widening[k] = std::sqrt(least[k] / (std::max)(result(k, k), 1e-6 * least[k]));
    return widening.asDiagonal() * result * widening.asDiagonal();
  }

  /// How the cells answer to a small change of all samples: M^-1 B'W change.
  [[nodiscard]] Eigen::VectorXd response(const Eigen::VectorXd& weighted_change) const {
    return solved_columns(weighted_change);
  }

  /// What was solved for, as a quadratic: calls use(row, column, value) for its matrix, lower triangle, parts of an
  /// entry one by one.
  template <class Use>
  void for_each_entry(Use&& use) const {
    for (const entry& e : data_.entries) use(e.row, e.column, e.value);
    for (std::size_t j = 0; j < penalty_.size(); ++j)
      for (const entry& e : penalty_[j].entries) use(e.row, e.column, strength_[j] * e.value);
    for (Eigen::Index k = 0; k < pull_.size(); ++k)
      use(static_cast<std::uint32_t>(k), static_cast<std::uint32_t>(k), pull_[k]);
  }
  [[nodiscard]] const Eigen::VectorXd& right() const noexcept { return right_; }

  static constexpr double stiffest = 1e9;  // rounding of the matrix reaches 1e-16 of its diagonal
  static constexpr double loosest = 1e-7;  // where a search stops: less would leave nothing to tell the noise by

 private:
  struct entry {
    std::uint32_t row, column;
    std::size_t slot;
    double value;
  };
  /// A symmetric matrix over the cells, by the entries of its lower triangle.
  struct symmetric {
    std::vector<entry> entries;
    void put(std::size_t row, std::size_t column, double value) {
      entries.push_back({static_cast<std::uint32_t>(row), static_cast<std::uint32_t>(column), 0, value});
    }
    [[nodiscard]] Eigen::VectorXd times(const Eigen::VectorXd& x) const {
      Eigen::VectorXd result = Eigen::VectorXd::Zero(x.size());
      for (const entry& e : entries) {
        result[e.row] += e.value * x[e.column];
        if (e.row != e.column) result[e.column] += e.value * x[e.row];
      }
      return result;
    }
    [[nodiscard]] Eigen::VectorXd diagonal(Eigen::Index n) const {
      Eigen::VectorXd result = Eigen::VectorXd::Zero(n);
      for (const entry& e : entries)
        if (e.row == e.column) result[e.row] += e.value;
      return result;
    }
  };

  [[nodiscard]] Eigen::MatrixXd solved_columns(const Eigen::MatrixXd& right) const {
    Eigen::MatrixXd result(right.rows(), right.cols());
    for (Eigen::Index k = 0; k < right.cols(); ++k) result.col(k) = back(factor_.solve(ordered(right.col(k))));
    return result;
  }

  template <class Use>
  void for_each_matrix(Use&& use) {
    use(data_);
    for (auto& penalty : penalty_) use(penalty);
  }

  // Several maps that share samples are laid side by side, cells of like position together, if that makes the envelope
  // smaller than one map after the other; a few numbers that meet every cell come last.
  void lay_out(const map_model& model) {
    std::vector<std::uint32_t> best_first = envelope(model, false);
    if (model.terms().size() > 1) {
      const std::vector<std::uint32_t> plain_position = position_;
      std::vector<std::uint32_t> first = envelope(model, true);
      if (work(first) < work(best_first))
        best_first = std::move(first);
      else
        position_ = plain_position;
    }
    factor_.lay_out(best_first);
    for_each_matrix([&](symmetric& m) {
      for (entry& e : m.entries)
        e.slot = factor_.slot((std::max)(position_[e.row], position_[e.column]),
                              (std::min)(position_[e.row], position_[e.column]));
    });
  }

  [[nodiscard]] static double work(const std::vector<std::uint32_t>& first) {
    double sum = 0;
    for (std::size_t i = 0; i < first.size(); ++i) {
      const auto width = static_cast<double>(i + 1 - first[i]);
      sum += width * width;
    }
    return sum;
  }

  // Sets position_ and says which column each row of that order begins with.
  [[nodiscard]] std::vector<std::uint32_t> envelope(const map_model& model, bool side_by_side) {
    struct seat {
      double key;
      std::uint32_t cell;
    };
    std::size_t largest = 1;
    for (const auto& term : model.terms()) largest = (std::max)(largest, term.size());
    std::vector<seat> order;
    for (std::size_t g = 0; g < model.terms().size(); ++g) {
      const std::size_t size = model.terms()[g].size();
      const bool few = 8 * size < largest;
      for (std::size_t c = 0; c < size; ++c) {
        const double share = static_cast<double>(c) / static_cast<double>(size);
        const double key = few ? 1e9 : side_by_side ? share : static_cast<double>(g);
        order.push_back({key, static_cast<std::uint32_t>(model.offset(g) + c)});
      }
    }
    std::stable_sort(order.begin(), order.end(), [](const seat& a, const seat& b) { return a.key < b.key; });
    position_.resize(order.size());
    std::vector<std::uint32_t> first(order.size());
    for (std::size_t k = 0; k < order.size(); ++k) {
      position_[order[k].cell] = static_cast<std::uint32_t>(k);
      first[k] = static_cast<std::uint32_t>(k);
    }
    for_each_matrix([&](const symmetric& m) {
      for (const entry& e : m.entries) {
        const std::uint32_t a = position_[e.row], b = position_[e.column];
        first[(std::max)(a, b)] = (std::min)(first[(std::max)(a, b)], (std::min)(a, b));
      }
    });
    return first;
  }

  void assemble(double hold) {
    factor_.clear();
    for (const entry& e : data_.entries) factor_.add(e.slot, e.value);
    for (std::size_t j = 0; j < penalty_.size(); ++j)
      if (strength_[j] > 0)
        for (const entry& e : penalty_[j].entries) factor_.add(e.slot, strength_[j] * e.value);
    for (Eigen::Index k = 0; k < pull_.size(); ++k) {
      const std::size_t at = position_[static_cast<std::size_t>(k)];
      factor_.add(factor_.slot(at, at), pull_[k] + hold * scale_[k]);
    }
    factor_.factor();
  }

  [[nodiscard]] Eigen::VectorXd ordered(const Eigen::VectorXd& cells) const {
    Eigen::VectorXd result(cells.size());
    for (Eigen::Index k = 0; k < cells.size(); ++k) result[position_[static_cast<std::size_t>(k)]] = cells[k];
    return result;
  }
  [[nodiscard]] Eigen::VectorXd back(const Eigen::VectorXd& positions) const {
    Eigen::VectorXd result(positions.size());
    for (Eigen::Index k = 0; k < result.size(); ++k) result[k] = positions[position_[static_cast<std::size_t>(k)]];
    return result;
  }

  static constexpr double singular_below = 1e-12;  // 1 - R^2 of a cell: rounding of the matrix itself reaches 1e-14
  static constexpr double hold_share = 1e-10;      // of the diagonal: far below any evidence, far above rounding
  static constexpr double floating_share = 1e-3;   // of the hold's own variance

  symmetric data_;
  std::vector<symmetric> penalty_;
  Eigen::VectorXd moment_, right_, pull_, prior_, cells_, scale_;
  std::vector<double> strength_, unit_;
  std::vector<std::uint32_t> position_;  // of each cell in the factored matrix
  double square_, samples_, pulled_ = 0;
  bool singular_ = false;
  spd_factor factor_;
};

/// What a solved system says, cell by cell, given the samples' weighted squares.
/// @param growth  of the noise variance over what squares and samples say.
[[nodiscard]] inline map_fit conclude(penalised_system& system, double squares, double growth = 1) {
  map_fit result;
  result.undetermined = system.undetermined();
  result.samples = system.samples();
  result.effective_parameters = system.effective_parameters();
  result.weighted_squares = squares;
  const double free = result.samples - result.effective_parameters;
  const double rounding =
      1e-8 * result.samples + (result.undetermined.empty() ? 0.0 : 1e-4 * result.effective_parameters);
  const bool tells = free > rounding;  // the weak hold of what floats costs the trace some figures
  result.noise_variance = tells ? growth * squares / free : std::numeric_limits<double>::infinity();
  const Eigen::VectorXd variance = result.noise_variance * system.variance();
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
  system.solve(strengths());
  return detail::conclude(system, system.weighted_squares());
}

}  // namespace fettle

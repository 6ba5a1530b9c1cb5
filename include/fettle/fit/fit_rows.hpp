// SPDX-License-Identifier: MIT
#pragma once

#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "fettle/error.hpp"
#include "fettle/fit/conclude.hpp"
#include "fettle/fit/loss.hpp"
#include "fettle/fit/map_model.hpp"
#include "fettle/fit/penalised_system.hpp"
#include "fettle/fit/sample_rows.hpp"
#include "fettle/fit/strengths.hpp"

namespace fettle {

struct row_fit_options {
  fettle::loss loss = fettle::loss::squares;
  std::optional<criterion> strengths{};  ///< choose the strengths by this, or keep the model's
  int most_rounds = 20;                  ///< of reweighting
};

/// A fit to samples, and what it leaves of each sample.
struct row_fit {
  map_model model;  ///< with the strengths used
  map_fit cells;
  std::vector<double> residual;       ///< per sample, value less prediction
  std::vector<double> robust_weight;  ///< per sample, 0 .. 1
  double scale = 0;                   ///< robust standard deviation of a sample of weight 1
  bool settled = true;                ///< false when reweighting ended at its last round still moving
};

namespace detail {

inline void require_sound(const sample_rows& rows) {
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const auto sample = rows[i];
    bool sound = std::isfinite(sample.value) && std::isfinite(sample.weight) && sample.weight >= 0;
    for (const double factor : sample.factor) sound = sound && std::isfinite(factor);
    if (!sound)
      throw error("fit: sample " + std::to_string(i) +
                  " has a value or factor that is not finite, or a negative weight");
  }
}

/// One round of reweighted least squares after another, over the same samples.
class reweighting {
 public:
  reweighting(const sample_rows& rows, const row_fit_options& options, row_fit& result)
      : rows_{rows}, options_{options}, result_{result} {}

  /// Solves with the present weights, and takes the residuals.
  void solve() {
    evidence seen(result_.model.cells());
    for (std::size_t i = 0; i < rows_.size(); ++i) {
      const auto sample = rows_[i];
      const double weight = sample.weight * result_.robust_weight[i];
      if (weight > 0) seen.add(sample.cell, sample.factor, sample.value, weight);
    }
    if (options_.strengths) result_.model = choose_strengths(result_.model, seen, *options_.strengths).model;
    penalised_system system(result_.model.terms(), seen);
    system.solve(result_.model.strengths());
    // Residuals come from the samples, and so does the correction of what forming normal equations has rounded away.
    system.refine(sample_gradient(system));
    system.refine(sample_gradient(system));
    take_residuals(system);
    ++rounds_;
  }

  /// The largest change of a cell since the last call, in standard errors; infinite the first time.
  [[nodiscard]] double moved() {
    double largest = before_.empty() ? std::numeric_limits<double>::infinity() : 0.0;
    for (std::size_t k = 0; k < before_.size(); ++k)
      if (result_.cells.standard_error[k] > 0)
        largest = (std::max)(largest, std::abs(result_.cells.value[k] - before_[k]) / result_.cells.standard_error[k]);
    before_ = result_.cells.value;
    return largest;
  }

  void reweight() {
    for (std::size_t i = 0; i < rows_.size(); ++i)
      result_.robust_weight[i] =
          robust_weight(options_.loss, std::sqrt(rows_[i].weight) * result_.residual[i] / result_.scale);
  }

 private:
  [[nodiscard]] static std::span<const double> cells_of(const penalised_system& system) noexcept {
    return {system.cells().data(), static_cast<std::size_t>(system.cells().size())};
  }

  [[nodiscard]] Eigen::VectorXd sample_gradient(const penalised_system& system) const {
    Eigen::VectorXd gradient = Eigen::VectorXd::Zero(system.cells().size());
    for (std::size_t i = 0; i < rows_.size(); ++i) {
      const auto sample = rows_[i];
      const double residual = sample.value - rows_.predict(i, cells_of(system));
      const double weighted = sample.weight * result_.robust_weight[i] * residual;
      for (std::size_t k = 0; k < sample.cell.size(); ++k)
        gradient[static_cast<Eigen::Index>(sample.cell[k])] += sample.factor[k] * weighted;
    }
    return gradient;
  }

  void take_residuals(penalised_system& system) {
    double squares = 0, scores = 0, weights = 0, counted = 0;
    robust_growth growth(rounds_ == 0 ? loss::squares : options_.loss);  // the first round weighs all alike
    std::vector<double> sizes;
    for (std::size_t i = 0; i < rows_.size(); ++i) {
      const double weight = result_.robust_weight[i];
      result_.residual[i] = rows_[i].value - rows_.predict(i, cells_of(system));
      if (!(rows_[i].weight > 0)) continue;
      const double square = rows_[i].weight * weight * result_.residual[i] * result_.residual[i];
      squares += square;
      scores += weight * square;
      weights += weight;
      ++counted;
      growth.add(weight);
      sizes.push_back(std::sqrt(rows_[i].weight) * std::abs(result_.residual[i]));
    }
    // The noise that gives the cells the covariance of an M-estimate.
    const double robust = squares > 0 ? growth.value() * growth.value() * scores / squares * counted / weights : 1;
    result_.cells = conclude(system, squares, robust);
    result_.scale = median_scale(std::move(sizes));
  }

  const sample_rows& rows_;
  const row_fit_options& options_;
  row_fit& result_;
  std::vector<double> before_;
  int rounds_ = 0;
};

}  // namespace detail

/// Fits the cells of a model to samples, robustly and with strengths chosen from the data where the options say so.
///
/// @return best cells; weights of the samples as they ended.
/// Errors: `fettle::error` when a sample is not finite or its weight is negative, naming the sample.
/// Cost:   one pass over the samples a round, two more at the end.
/// Source: iteratively reweighted least squares with the weights of `loss`, P. W. Holland, R. E. Welsch, "Robust
///         regression using iteratively reweighted least-squares", Commun. Statist. A 6 (1977) 813-827 (from memory).
[[nodiscard]] inline row_fit fit_rows(const map_model& model, const sample_rows& rows,
                                      const row_fit_options& options = {}) {
  detail::require_sound(rows);
  row_fit result{.model = model,
                 .cells = {},
                 .residual = std::vector<double>(rows.size()),
                 .robust_weight = std::vector<double>(rows.size(), 1.0)};
  detail::reweighting fit(rows, options, result);
  for (int round = 0; round < (std::max)(options.most_rounds, 1); ++round) {
    fit.solve();
    if (options.loss == loss::squares || !(result.scale > 0)) break;
    result.settled = fit.moved() < 0.01;
    if (result.settled) break;
    fit.reweight();
  }
  return result;
}

}  // namespace fettle

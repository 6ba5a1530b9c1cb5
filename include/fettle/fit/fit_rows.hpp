// SPDX-License-Identifier: MIT
#pragma once

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <cstddef>
#include <optional>
#include <span>
#include <vector>

#include "fettle/error.hpp"
#include "fettle/fit/map_model.hpp"
#include "fettle/fit/sample_rows.hpp"
#include "fettle/fit/strengths.hpp"

namespace fettle {

/// How a large residual counts: fully, linearly beyond a bound (Huber), or not at all (Tukey's biweight).
enum class loss { squares, huber, tukey };

struct row_fit_options {
  loss by = loss::squares;
  std::optional<criterion> strengths{};  ///< choose the strengths by this, or keep the model's
  int most_rounds = 20;                  ///< of reweighting
};

/// A fit to samples, with what it says of each sample.
struct row_fit {
  map_model model;  ///< with the strengths used
  map_fit cells;
  std::vector<double> residual;       ///< per sample, value less prediction
  std::vector<double> robust_weight;  ///< per sample, 0 .. 1
  double scale = 0;                   ///< robust standard deviation of a sample of weight 1
  bool settled = true;                ///< false when reweighting ended at its last round still moving
};

namespace detail {

/// Weight of a residual in units of the scale. Tuning constants give 95 % efficiency on normal noise.
/// Source: P. J. Huber, Ann. Math. Statist. 35 (1964) 73-101, doi:10.1214/aoms/1177703732; A. E. Beaton, J. W. Tukey,
///         Technometrics 16 (1974) 147-185, doi:10.1080/00401706.1974.10489171; constants 1.345 and 4.685: common
///         practice.
[[nodiscard]] inline double robust_weight(loss by, double standardised) noexcept {
  const double size = std::abs(standardised);
  if (by == loss::huber) return size <= 1.345 ? 1.0 : 1.345 / size;
  if (by == loss::tukey) {
    const double inside = 1 - (size / 4.685) * (size / 4.685);
    return inside > 0 ? inside * inside : 0.0;
  }
  return 1.0;
}

/// Derivative of weight * residual by the residual, from the weight.
[[nodiscard]] inline double robust_slope(loss by, double weight) noexcept {
  if (by == loss::huber) return weight < 1 ? 0.0 : 1.0;
  if (by == loss::tukey) return std::sqrt(weight) * (5 * std::sqrt(weight) - 4);
  return 1.0;
}

/// What a robust loss makes of weights in a covariance: the sum of its weights over the sum of its slopes, about 1.2
/// for Tukey on normal noise, 1 for squares. Least squares with its weights solves the normal equations of the slopes
/// only so far. Twofold at most: beyond that the residuals are not noise around a fit.
///
/// Source: P. J. Huber, Ann. Statist. 1 (1973) 799-821, for the covariance of an M-estimate (from memory).
class robust_growth {
 public:
  explicit robust_growth(loss by) : by_{by} {}
  void add(double weight) noexcept {
    weights_ += weight;
    slopes_ += robust_slope(by_, weight);
  }
  [[nodiscard]] double value() const noexcept {
    return weights_ > 0 ? weights_ / (std::max)(slopes_, weights_ / 2) : 1;
  }

 private:
  loss by_;
  double weights_ = 0, slopes_ = 0;
};

/// Median absolute deviation from zero, scaled to the standard deviation of normal noise.
[[nodiscard]] inline double median_scale(std::vector<double> sizes) {
  if (sizes.empty()) return 0;
  const auto middle = sizes.begin() + static_cast<std::ptrdiff_t>(sizes.size() / 2);
  std::nth_element(sizes.begin(), middle, sizes.end());
  return 1.482602218505602 * *middle;  // 1 / normal quantile of 3/4
}

}  // namespace detail

/// Fits the cells of a model to samples, robustly if asked, with strengths chosen from the data if asked.
///
/// @return best cells; weights of the samples as they ended.
/// Errors: `fettle::error` when a sample is not finite or its weight is negative, naming the sample.
/// Cost:   one pass over the samples a round, two more at the end.
[[nodiscard]] inline row_fit fit_rows(const map_model& model, const sample_rows& rows,
                                      const row_fit_options& options = {}) {
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const auto sample = rows[i];
    bool sound = std::isfinite(sample.value) && std::isfinite(sample.weight) && sample.weight >= 0;
    for (const double factor : sample.factor) sound = sound && std::isfinite(factor);
    if (!sound)
      throw error("fit: sample " + std::to_string(i) +
                  " has a value or factor that is not finite, or a negative weight");
  }
  row_fit result{.model = model,
                 .cells = {},
                 .residual = std::vector<double>(rows.size()),
                 .robust_weight = std::vector<double>(rows.size(), 1.0)};
  std::vector<double> before;
  for (int round = 0; round < (std::max)(options.most_rounds, 1); ++round) {
    evidence seen(model.cells());
    for (std::size_t i = 0; i < rows.size(); ++i) {
      const auto sample = rows[i];
      const double weight = sample.weight * result.robust_weight[i];
      if (weight > 0) seen.add(sample.cell, sample.factor, sample.value, weight);
    }
    if (options.strengths) result.model = choose_strengths(result.model, seen, *options.strengths).model;
    detail::penalised_system system(result.model, seen);
    system.solve(result.model.strengths());

    // Residuals come from the samples, and so does the correction of what forming normal equations has rounded away.
    for (int pass = 0; pass < 2; ++pass) {
      Eigen::VectorXd gradient = Eigen::VectorXd::Zero(system.cells().size());
      const std::span<const double> cells(system.cells().data(), model.cells());
      for (std::size_t i = 0; i < rows.size(); ++i) {
        const auto sample = rows[i];
        const double residual = sample.value - rows.predict(i, cells);
        const double weighted = sample.weight * result.robust_weight[i] * residual;
        for (std::size_t k = 0; k < sample.cell.size(); ++k)
          gradient[static_cast<Eigen::Index>(sample.cell[k])] += sample.factor[k] * weighted;
      }
      system.refine(gradient);
    }
    double squares = 0, scores = 0, weights = 0, counted = 0;
    detail::robust_growth growth(round == 0 ? loss::squares : options.by);  // the first round weighs all alike
    std::vector<double> sizes;
    const std::span<const double> cells(system.cells().data(), model.cells());
    for (std::size_t i = 0; i < rows.size(); ++i) {
      const double weight = result.robust_weight[i];
      result.residual[i] = rows[i].value - rows.predict(i, cells);
      if (!(rows[i].weight > 0)) continue;
      const double square = rows[i].weight * weight * result.residual[i] * result.residual[i];
      squares += square;
      scores += weight * square;
      weights += weight;
      ++counted;
      growth.add(weight);
      sizes.push_back(std::sqrt(rows[i].weight) * std::abs(result.residual[i]));
    }
    // The noise that gives the cells the covariance of an M-estimate.
    const double robust = squares > 0 ? growth.value() * growth.value() * scores / squares * counted / weights : 1;
    result.cells = detail::conclude(system, squares, robust);
    result.scale = detail::median_scale(std::move(sizes));
    if (options.by == loss::squares || !(result.scale > 0)) break;

    double moved = 0;  // in standard errors, which is what matters
    for (std::size_t k = 0; k < before.size(); ++k)
      if (result.cells.standard_error[k] > 0)
        moved = (std::max)(moved, std::abs(result.cells.value[k] - before[k]) / result.cells.standard_error[k]);
    result.settled = !before.empty() && moved < 0.01;
    if (result.settled) break;
    before = result.cells.value;
    for (std::size_t i = 0; i < rows.size(); ++i)
      result.robust_weight[i] =
          detail::robust_weight(options.by, std::sqrt(rows[i].weight) * result.residual[i] / result.scale);
  }
  return result;
}

}  // namespace fettle

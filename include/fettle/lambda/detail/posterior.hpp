// SPDX-License-Identifier: MIT
#pragma once

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <utility>
#include <vector>

#include "fettle/fit/penalised_system.hpp"
#include "fettle/lambda/detail/gauss_newton.hpp"
#include "fettle/lambda/detail/linearised_readings.hpp"
#include "fettle/lambda/detail/parameter_slope.hpp"
#include "fettle/lambda/detail/score_clusters.hpp"

namespace fettle::detail {

/// The answer and its covariance: what the logs alone say, with errors correlated in time and at a place counted, and
/// the priors, combined in proportion to their precisions.
struct posterior {
  std::vector<double> value;
  Eigen::MatrixXd covariance;
};

/// Concludes a search at its present estimate.
///
/// Priors meet the data at the precision of the clustered errors: rows of one pass share their errors, and a prior that
/// was weighed against rows would lose its weight as they accumulate. So the rows are solved with priors of a tenth of
/// their strength first, the covariance of that solution is the sandwich of two-way clusters, and one Gaussian
/// combination with the priors follows.
///
/// Source: A. C. Cameron, J. B. Gelbach, D. L. Miller, J. Bus. Econ. Stat. 29 (2011) 238-249,
///         doi:10.1198/jbes.2010.07136 (from memory), for clusters in two ways: their scores' products are added. Those
///         of their intersections are not taken off, so that the covariance stays positive.
class conclusion {
 public:
  conclusion(const gauss_newton& search, const unknowns& all, const identify_options& options)
      : search_{search},
        readings_{search.readings()},
        all_{all},
        block_s_{options.block_s},
        threads_{options.threads},
        seen_{search.gather(loss::tukey)},
        system_{all.terms(search.strength(), barely), seen_} {
    system_.solve(all.expanded(search.strength()));
    const auto n = static_cast<Eigen::Index>(all.size());
    inverse_.resize(n, n);
    for (Eigen::Index k = 0; k < n; ++k) inverse_.col(k) = system_.response(Eigen::VectorXd::Unit(n, k));
  }

  [[nodiscard]] posterior combine() {
    Eigen::MatrixXd spread = sandwich();
    add_uncertain_parameters(spread);
    const auto [prior_spread, prior_mean] = all_.priors();
    const auto n = static_cast<Eigen::Index>(all_.size());
    for (Eigen::Index k = 0; k < static_cast<Eigen::Index>(all_.cells()); ++k) {
      const double scatter = all_.spreads().scatter * all_.spreads().scatter;
      spread(k, k) += scatter / (1 + scatter * seen_.weight(static_cast<std::size_t>(k)));
    }
    Eigen::MatrixXd between = spread;
    Eigen::VectorXd away(n);
    for (Eigen::Index k = 0; k < n; ++k) {
      const auto at = static_cast<std::size_t>(k);
      between(k, k) += prior_spread[at] * prior_spread[at] / (1 - 1 / (barely * barely));
      away[k] = prior_mean[at] - system_.cells()[k];
    }
    const Eigen::LLT<Eigen::MatrixXd> factor(std::move(between));
    posterior result;
    const Eigen::VectorXd value = system_.cells() + spread * factor.solve(away);
    result.value.assign(value.data(), value.data() + n);
    const Eigen::MatrixXd half = factor.matrixL().solve(spread);
    spread.selfadjointView<Eigen::Lower>().rankUpdate(half.transpose(), -1);
    result.covariance = spread.selfadjointView<Eigen::Lower>();
    return result;
  }

 private:
  struct clustered_scores {
    score_clusters blocks, places;  // of time, of operation
    robust_growth growth{loss::tukey};

    void merge(const clustered_scores& other) {
      blocks.merge(other.blocks);
      places.merge(other.places);
      growth.merge(other.growth);
    }
  };

  struct push {
    Eigen::VectorXd moment;
    void merge(const push& other) { moment += other.moment; }
  };

  [[nodiscard]] Eigen::MatrixXd sandwich() const {
    const auto [blocks, places, growth] = readings_.sum_over_channels(
        clustered_scores{score_clusters(all_.size()), score_clusters(all_.size())},
        [&](clustered_scores& sum, const channel& series) {
          readings_.for_each_row(series, [&](std::size_t row, const auto& columns, const auto& factors) {
            const weighted_row weighed = search_.errors().weigh(series, row, loss::tukey);
            if (series.kind[row] == evidence_kind::measured) sum.growth.add(weighed.robust);
            if (!(weighed.weight > 0)) return;
            sum.blocks.add({series.part, block_of(series, row, block_s_)}, columns, factors, weighed.weight,
                           weighed.residual);
            sum.places.add({search_.errors().quarter(series, row), 0}, columns, factors, weighed.weight,
                           weighed.residual);
          });
        });
    // The inverse of the normal matrix less the part of the data, which the scores of the clusters replace: few of its
    // entries are not zero, as a cluster meets few unknowns.
    const auto n = static_cast<Eigen::Index>(all_.size());
    Eigen::MatrixXd replaced = Eigen::MatrixXd::Zero(n, n);
    seen_.for_each_entry([&](std::size_t row, std::size_t col, double value) {
      replaced(static_cast<Eigen::Index>(row), static_cast<Eigen::Index>(col)) = value;
      replaced(static_cast<Eigen::Index>(col), static_cast<Eigen::Index>(row)) = value;
    });
    const double grown = growth.value() * growth.value();
    for (const score_clusters* clusters : {&blocks, &places})
      clusters->for_each(inverse_, [&](const auto& unknown, const auto& score) {
        for (std::size_t a = 0; a < unknown.size(); ++a)
          for (std::size_t b = 0; b < unknown.size(); ++b)
            replaced(unknown[a], unknown[b]) -= grown * score[a] * score[b];
      });
    Eigen::MatrixXd moved = Eigen::MatrixXd::Zero(n, n);
    share_work(threads_, all_.size(), [&](std::size_t k) {
      const auto column = static_cast<Eigen::Index>(k);
      for (Eigen::Index row = 0; row < n; ++row)
        if (replaced(row, column) != 0) moved.col(column) += replaced(row, column) * inverse_.col(row);
    });
    Eigen::MatrixXd result = inverse_;
    result.noalias() -= moved * inverse_;
    return result;
  }

  // What follows from parameters that may be wrong and are not sought.
  void add_uncertain_parameters(Eigen::MatrixXd& spread) const {
    std::size_t place = 0;
    std::vector<std::pair<std::size_t, double>> uncertain;
    dynamics::for_each(readings_.now().with, [&](const parameter& quantity) {
      if (quantity.is_uncertain()) uncertain.emplace_back(place, quantity.spread);
      ++place;
    });
    for (const auto& one_uncertain : uncertain) {
      const std::size_t where = one_uncertain.first;
      const double error = one_uncertain.second;  // not bound together: clang 14 captures no structured binding
      const push pushed = readings_.sum_over_channels(
          push{Eigen::VectorXd::Zero(static_cast<Eigen::Index>(all_.size()))}, [&](push& sum, const channel& series) {
            const std::vector<float> slope = parameter_slopes(series, readings_.now().with).in(where);
            if (slope.empty()) return;
            readings_.for_each_row(series, [&](std::size_t row, const auto& columns, const auto& factors) {
              const double weight =
                  search_.errors().weigh(series, row, loss::tukey).weight * static_cast<double>(slope[row]) * error;
              for (std::size_t k = 0; k < columns.size(); ++k)
                sum.moment[static_cast<Eigen::Index>(columns[k])] += weight * factors[k];
            });
          });
      const Eigen::VectorXd moved = inverse_ * pushed.moment;
      spread.noalias() += moved * moved.transpose();
    }
  }

  static constexpr double barely = 10;  // times a prior's spread

  const gauss_newton& search_;
  const linearised_readings& readings_;
  const unknowns& all_;
  double block_s_;
  std::size_t threads_;
  evidence seen_;
  penalised_system system_;
  Eigen::MatrixXd inverse_;
};

}  // namespace fettle::detail

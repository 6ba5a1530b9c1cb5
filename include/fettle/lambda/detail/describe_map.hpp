// SPDX-License-Identifier: MIT
#pragma once

#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <cstddef>
#include <string>
#include <utility>
#include <vector>

#include "fettle/lambda/detail/channel.hpp"
#include "fettle/lambda/detail/gauss_newton.hpp"
#include "fettle/lambda/detail/parameter_slope.hpp"
#include "fettle/lambda/detail/pass_counter.hpp"
#include "fettle/lambda/detail/posterior.hpp"
#include "fettle/lambda/detail/unknowns.hpp"
#include "fettle/lambda/dynamics.hpp"
#include "fettle/lambda/identification.hpp"
#include "fettle/lambda/screening.hpp"

namespace fettle::detail {

/// The covariance of the cells' logarithms, and of what all cells share.
struct cell_covariance {
  Eigen::MatrixXd between;
  double common = 0;
};
[[nodiscard]] inline cell_covariance split_common(const posterior& answer, const unknowns& all) {
  const auto cells = static_cast<Eigen::Index>(all.cells()), n = static_cast<Eigen::Index>(all.size());
  const auto first = static_cast<Eigen::Index>(all.first_scalar());
  Eigen::MatrixXd to_cells = Eigen::MatrixXd::Zero(cells, n - first);  // from the scalars, beside each cell's own
  Eigen::VectorXd gains = Eigen::VectorXd::Zero(n), levels = Eigen::VectorXd::Zero(n);
  double gain_weight = 0, logs = 0;
  const bool shares = std::any_of(all.scalars().begin(), all.scalars().end(),
                                  [](const auto& scalar) { return scalar.what == scalar_unknown::kind::shared_gain; });
  for (std::size_t p = 0; p < all.scalars().size(); ++p) {
    const auto& scalar = all.scalars()[p];
    const auto k = first + static_cast<Eigen::Index>(p);
    if (scalar.what == scalar_unknown::kind::level) to_cells.col(k - first).setOnes();
    if (scalar.what == scalar_unknown::kind::tilt)
      for (std::size_t c = 0; c < all.cells(); ++c)
        to_cells(static_cast<Eigen::Index>(c), k - first) = all.place(scalar.index, c);
    if (scalar.what == scalar_unknown::kind::gain) {
      const bool counts = !shares || !(scalar.spread > all.spreads().calibrated_gain);
      gains[k] = counts ? 1 / (scalar.spread * scalar.spread) : 0;
      gain_weight += gains[k];
    }
    if (scalar.what == scalar_unknown::kind::log_level) levels[k] = 1, ++logs;
  }
  cell_covariance result;
  Eigen::MatrixXd covariance = answer.covariance;
  for (auto* shared : {&gains, &levels}) {
    const double all_of_them = shared == &gains ? gain_weight : logs;
    if (!(all_of_them > 0)) continue;
    *shared /= all_of_them;
    const Eigen::VectorXd reach = covariance * *shared;
    const double variance = shared->dot(reach);
    if (!(variance > 0)) continue;
    covariance -= reach * (reach.transpose() / variance);
    result.common = std::hypot(result.common, std::sqrt(variance));
  }
  const Eigen::MatrixXd crossed =
      to_cells * (covariance.block(first, 0, n - first, cells) +
                  0.5 * covariance.bottomRightCorner(n - first, n - first) * to_cells.transpose());
  result.between = covariance.topLeftCorner(cells, cells) + crossed + crossed.transpose();
  return result;
}

inline void describe_parameters(const posterior& answer, const gauss_newton& search, const unknowns& all,
                                const dynamics& start, identification& result) {
  const double model_error = search.options().model_error;
  std::vector<parameter> free;
  dynamics::for_each(start, [&](const parameter& quantity) {
    if (quantity.is_free()) free.push_back(quantity);
  });
  std::vector<Eigen::Index> where;
  std::vector<std::string> names;
  result.gains.resize(start.sensors.size());
  for (std::size_t s = 0; s < start.sensors.size(); ++s)
    result.gains[s] = {.prior = start.sensors[s].gain, .value = start.sensors[s].gain.value};
  std::size_t next = 0;
  for (std::size_t p = 0; p < all.scalars().size(); ++p) {
    const auto what = all.scalars()[p].what;
    const auto k = static_cast<Eigen::Index>(all.first_scalar() + p);
    if (what == scalar_unknown::kind::log_level)
      result.log_levels.push_back({.name = search.readings().log_names()[all.scalars()[p].index],
                                   .level = std::exp(answer.value[static_cast<std::size_t>(k)]),
                                   .spread = all.scalars()[p].spread});
    if (what != scalar_unknown::kind::parameter && what != scalar_unknown::kind::gain) continue;
    const parameter& prior = free[next++];
    const double own = answer.covariance(k, k);
    const bool is_gain = what == scalar_unknown::kind::gain;
    const bool is_flow = !is_gain && parameter_place(all.scalars()[p].index, start.banks.size()).is_flow;
    const parameter_estimate made{
        .prior = prior,
        .value = std::clamp(std::exp(answer.value[static_cast<std::size_t>(k)]), prior.lowest, prior.highest),
        .relative_error = std::sqrt(own + (is_gain || is_flow ? 0 : model_error * model_error)),
        .reading_error = std::sqrt(own),
        .identified_share = std::clamp(1 - own / (prior.spread * prior.spread), 0.0, 1.0)};
    if (is_gain) {
      result.gains[all.scalars()[p].index] = made;
      continue;
    }
    result.parameters.push_back(made);
    for (std::size_t q = 0; q < where.size(); ++q) {
      const double correlation =
          answer.covariance(k, where[q]) / std::sqrt(own * answer.covariance(where[q], where[q]));
      if (std::abs(correlation) > 0.95) result.correlated.push_back({names[q], prior.name, correlation});
    }
    where.push_back(k);
    names.push_back(prior.name);
  }
}

/// What the readings had to do with each cell, and how far they lie from the model, all and those of each sensor.
inline void count_readings(const gauss_newton& search, std::size_t cells, identification& result) {
  result.seconds.assign(cells, 0.0);
  for (const auto& model : search.readings().models()) model.add_usage(result.seconds);
  result.readings.assign(cells, 0.0);
  result.agreement.assign(cells, 0.0);
  result.lean_end_share.assign(cells, 0.0);
  result.rejected.resize(search.readings().now().with.sensors.size());
  pass_counter passes(cells);
  result.scatter.assign(result.rejected.size(), {});
  std::vector<std::vector<double>> sizes(result.scatter.size());
  std::vector<double> counting(result.scatter.size(), 0.0);
  for (const auto& series : search.readings().channels())
    for (std::size_t i = 0; i < series.rejected.size(); ++i) {
      result.rejected[series.sensor].add(series.rejected[i]);
      const moment from = series.origin.from[i];
      if (series.rejected[i] != rejection::stood_at_lean_end || !(from.fraction >= 0)) continue;
      series.model->add_residency(from, 1, result.lean_end_share);  // tells no mixture, but forbids leaning
      series.model->add_residency(from, 1, result.readings);
    }
  search.readings().for_each_reading([&](const channel& series, std::size_t i) {
    const moment from = series.origin.from[i];
    if (series.is_lean_alarm(i)) series.model->add_residency(from, 1, result.lean_end_share);
    const double weight = search.errors().weigh(series, i, loss::tukey).robust;
    ++counting[series.sensor];
    if (weight == 0) ++result.scatter[series.sensor].misfits;
    if (series.kind[i] == evidence_kind::measured)
      sizes[series.sensor].push_back(std::abs(static_cast<double>(series.residual[i])));
    series.model->add_residency(from, 1, result.readings);
    series.model->add_residency(from, weight, result.agreement);
    series.model->for_each_cell(from.row, [&](std::size_t cell, double share) {
      passes.add(cell, share, series.part, series.model->log().time_s[i]);
    });
  });
  result.passes = passes.count();
  std::vector<double> all_sizes;
  double all_counting = 0;
  for (std::size_t s = 0; s < sizes.size(); ++s) {
    sensor_scatter& scatter = result.scatter[s];
    result.misfits += scatter.misfits;
    all_counting += counting[s];
    if (counting[s] > 0) scatter.misfits /= counting[s];
    all_sizes.insert(all_sizes.end(), sizes[s].begin(), sizes[s].end());
    scatter.noise = median_scale(std::move(sizes[s]));
  }
  result.noise = median_scale(std::move(all_sizes));
  if (all_counting > 0) result.misfits /= all_counting;
  for (std::size_t k = 0; k < cells; ++k)
    if (result.readings[k] > 0) {
      result.agreement[k] /= result.readings[k];
      result.lean_end_share[k] /= result.readings[k];
    }
}

}  // namespace fettle::detail

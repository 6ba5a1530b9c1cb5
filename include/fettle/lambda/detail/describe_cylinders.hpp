// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <span>
#include <utility>
#include <vector>

#include "fettle/lambda/cylinder_trims.hpp"
#include "fettle/lambda/detail/gauss_newton.hpp"
#include "fettle/lambda/detail/linearised_readings.hpp"
#include "fettle/lambda/detail/pass_counter.hpp"
#include "fettle/lambda/detail/posterior.hpp"
#include "fettle/lambda/detail/unknowns.hpp"
#include "fettle/lambda/rotation.hpp"

namespace fettle::detail {

/// What each cylinder needs over the mean of all, and how well it is known.
inline void describe_trims(const posterior& answer, const estimate& at, const unknowns& all, cylinder_trims& result) {
  const std::size_t cylinders = all.cylinders(), cells = all.trim_cells();
  result.axes = all.trim_axes();
  result.correction.assign(cylinders, std::vector<double>(cells));
  result.standard_error = result.correction;
  const double share = 1 / static_cast<double>(cylinders);
  for (std::size_t k = 0; k < cells; ++k) {
    double mean = 0;
    for (std::size_t i = 0; i < cylinders; ++i) mean += share * std::exp(at.trim[i * cells + k]);
    for (std::size_t i = 0; i < cylinders; ++i) {
      result.correction[i][k] = std::exp(at.trim[i * cells + k]) / mean;
      // A trim is what a cylinder differs by from the mean of all: what they share belongs to the map.
      std::vector<std::pair<Eigen::Index, double>> contrast;
      for (std::size_t c = 0; c < cylinders; ++c) {
        const double factor = (c == i ? 1 : 0) - share;
        contrast.emplace_back(static_cast<Eigen::Index>(all.first_trim(c) + k), factor);
        contrast.emplace_back(static_cast<Eigen::Index>(all.trim_level(c)), factor);
      }
      double variance = 0;
      for (const auto& [row, a] : contrast)
        for (const auto& [column, b] : contrast) variance += a * b * answer.covariance(row, column);
      result.standard_error[i][k] = std::sqrt((std::max)(variance, 0.0));
    }
  }
}

/// Which readings spoke of which cylinder and where.
inline void count_cylinder_readings(const gauss_newton& search, const unknowns& all, cylinder_trims& result) {
  const std::size_t cylinders = all.cylinders(), cells = all.trim_cells();
  result.readings.assign(cylinders, std::vector<double>(cells, 0.0));
  result.agreement = result.lean_end_share = result.readings;
  std::vector<pass_counter> passes(cylinders, pass_counter(cells));
  search.readings().for_each_reading([&](const channel& series, std::size_t i) {
    if (series.cylinders.empty()) return;
    const std::array<double, 2> x{static_cast<double>(series.trim_at[i][0]), static_cast<double>(series.trim_at[i][1])};
    const auto stencil = stencil_at(all.trim_axes(), std::span<const double>(x));
    const double weight = search.errors().weigh(series, i, loss::tukey).robust;
    for (const std::size_t c : series.cylinders)
      for (std::size_t k = 0; k < stencil.size; ++k) {
        result.readings[c][stencil.cell[k]] += stencil.weight[k];
        result.agreement[c][stencil.cell[k]] += weight * stencil.weight[k];
        if (series.is_lean_alarm(i)) result.lean_end_share[c][stencil.cell[k]] += stencil.weight[k];
        passes[c].add(stencil.cell[k], stencil.weight[k], series.part, series.model->log().time_s[i]);
      }
  });
  for (std::size_t c = 0; c < cylinders; ++c) {
    result.passes.push_back(passes[c].count());
    for (std::size_t k = 0; k < cells; ++k)
      if (result.readings[c][k] > 0) {
        result.agreement[c][k] /= result.readings[c][k];
        result.lean_end_share[c][k] /= result.readings[c][k];
      }
  }
}

/// What the engine did at each cell of the trim maps, whoever measured it.
inline void describe_places(const linearised_readings& readings, const unknowns& all, const identify_options& options,
                            cylinder_trims& result) {
  const std::size_t cells = all.trim_cells();
  std::vector<double> phi(cells, 0.0), target(cells, 0.0);
  result.seconds.assign(cells, 0.0);
  for (std::size_t m = 0; m < readings.models().size(); ++m) {
    const reading_model& model = readings.models()[m];
    const recording& log = model.log();
    const auto& rows = readings.screened()[m];
    const auto uncorrected = model.uncorrected_phi(readings.now().with);
    const auto correction = model.correction_at_rows(readings.now().correction);
    std::vector<std::vector<double>> at;
    for (const std::size_t a : options.trims.along) at.push_back(model.coordinate(a));
    for (std::size_t i = 1; i < rows.size(); ++i) {
      if (rows[i] != rejection::none) continue;
      const double step_s = log.time_s[i] - log.time_s[i - 1];
      std::array<double, 2> x{};
      for (std::size_t a = 0; a < at.size(); ++a) x[a] = at[a][i];
      const auto stencil = stencil_at(all.trim_axes(), std::span<const double>(x));
      for (std::size_t k = 0; k < stencil.size; ++k) {
        result.seconds[stencil.cell[k]] += stencil.weight[k] * step_s;
        phi[stencil.cell[k]] += stencil.weight[k] * step_s * uncorrected[i] / correction[i];
        target[stencil.cell[k]] += stencil.weight[k] * step_s / log.target_lambda[i];
      }
    }
  }
  for (std::size_t k = 0; k < cells; ++k) {
    const double seconds = result.seconds[k];
    result.collector_lambda.push_back(seconds > 0 ? seconds / phi[k] : std::nan(""));
    result.target_lambda.push_back(seconds > 0 ? seconds / target[k] : std::nan(""));
  }
}

/// Where the sensors sat, what that can tell, and why readings did not count.
inline void describe_stays(const linearised_readings& readings, const unknowns& all, const identify_options& options,
                           const std::vector<parameter>& gains, cylinder_trims& result) {
  const std::size_t logs = readings.now().log_level.size(), sensors = gains.size();
  rotation design{.cylinders = all.cylinders(), .runs = logs, .sensors = {}, .stays = {}};
  for (std::size_t s = 0; s < sensors; ++s)
    design.sensors.push_back(
        {readings.models().front().log().sensors[s].name, !(gains[s].spread > options.spreads.calibrated_gain)});
  result.rejected.assign(logs, std::vector<rejection_counts>(sensors));
  std::vector<std::vector<bool>> is_fitted(logs, std::vector<bool>(sensors, false));
  std::vector<std::vector<std::vector<std::size_t>>> cylinders(logs, std::vector<std::vector<std::size_t>>(sensors));
  for (const auto& series : readings.channels()) {
    is_fitted[series.log][series.sensor] = true;
    cylinders[series.log][series.sensor] = series.trace().cylinders;
    for (const rejection why : series.rejected) result.rejected[series.log][series.sensor].add(why);
  }
  for (std::size_t l = 0; l < logs; ++l)
    for (std::size_t s = 0; s < sensors; ++s) {
      const sensor_stay stay{l, s, cylinders[l][s]};
      const bool counts =
          is_fitted[l][s] && static_cast<double>(result.rejected[l][s][rejection::none]) >= options.fewest_readings;
      (counts ? design.stays : result.unused).push_back(stay);
    }
  design.check();
  if (design.stays.empty())
    throw error("identify: no sensor has " + std::to_string(static_cast<int>(options.fewest_readings)) +
                " readings that count in any log");
  result.separable = separate(design);
}

}  // namespace fettle::detail

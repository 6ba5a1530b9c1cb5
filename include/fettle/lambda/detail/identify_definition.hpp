// SPDX-License-Identifier: MIT
#pragma once

#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <cstddef>
#include <functional>
#include <string>
#include <utility>
#include <vector>

#include "fettle/error.hpp"
#include "fettle/lambda/detail/check_cylinders.hpp"
#include "fettle/lambda/detail/compiled.hpp"
#include "fettle/lambda/detail/describe_cylinders.hpp"
#include "fettle/lambda/detail/gauss_newton.hpp"
#include "fettle/lambda/detail/posterior.hpp"
#include "fettle/lambda/detail/unknowns.hpp"
#include "fettle/lambda/dynamics.hpp"
#include "fettle/lambda/exhaust_flow.hpp"
#include "fettle/lambda/identification.hpp"
#include "fettle/lambda/identify.hpp"
#include "fettle/lambda/identify_options.hpp"
#include "fettle/lambda/recording.hpp"

namespace fettle {
namespace detail {

inline void check_sensor(const sensor_trace& sensor, const recording& log) {
  const std::string name = "identify: sensor " + sensor.name;
  if (!(sensor.flow_share > 0 && sensor.flow_share <= 1))
    throw error(name + " is passed by a share of " + std::to_string(sensor.flow_share) +
                " of the exhaust; give more than 0 and at most 1");
  check_cylinders(name, sensor.cylinders, static_cast<std::size_t>(log.cylinders));
}

inline void check_identify(const std::vector<recording>& logs, const dynamic_table<double>& base, const dynamics& start,
                           const trim_shape& trims) {
  start.check();
  if (trims.axes.size() > 2) throw error("identify: a trim map has two axes at most");
  if (trims.along.size() != trims.axes.size())
    throw error("identify: say for each axis of the trim maps which coordinate it reads");
  if (logs.empty()) throw error("identify: there is no log");
  if (base.rank() < 1) throw error("identify: the map needs at least one axis");
  for (std::size_t i = 0; i < base.size(); ++i)
    if (!(base.values()[i] > 0) || !std::isfinite(base.values()[i]))
      throw error("identify: cell " + std::to_string(i) + " of the map is " + std::to_string(base.values()[i]) +
                  "; every cell must be above zero");
  for (const auto& log : logs) {
    if (log.at.size() != base.rank())
      throw error("identify: log " + log.name + " has another number of map coordinates than the map has axes");
    if (log.fuel_mg.size() != start.banks.size())
      throw error("identify: log " + log.name + " has another number of banks than the dynamics");
    if (log.sensors.size() != start.sensors.size())
      throw error("identify: log " + log.name + " has another number of sensors than the dynamics");
    for (const auto& sensor : log.sensors) check_sensor(sensor, log);
    for (const std::size_t a : trims.along)
      if (a >= log.at.size())
        throw error("identify: an axis of the trim maps reads coordinate " + std::to_string(a) + " of log " + log.name +
                    ", which has " + std::to_string(log.at.size()));
  }
}

/// Trim maps where nothing is said of them: coarse along the first two axes of the map.
[[nodiscard]] inline trim_shape coarse_trims(const dynamic_table<double>& base) {
  trim_shape result;
  const std::size_t most[2]{6, 4};
  for (std::size_t a = 0; a < 2 && a < base.rank(); ++a) {
    const auto& fine = base.axes()[a].points();
    const std::size_t count = (std::min)(most[a], fine.size());
    std::vector<double> points;
    for (std::size_t i = 0; i < count; ++i)
      points.push_back(fine[(i * (fine.size() - 1) + (count - 1) / 2) / (count - 1)]);
    result.axes.push_back(*dynamic_axis<double>::from(std::move(points)));
    result.along.push_back(a);
  }
  return result;
}

/// Whether a bank was driven with another share of the fuel than the share map gives it now: without, its flow and the
/// cells cannot be told apart.
[[nodiscard]] inline bool shares_differ(const std::vector<recording>& logs, std::size_t bank) {
  constexpr double least_difference = 0.05, least_s = 5;
  double seconds = 0;
  for (const auto& log : logs)
    for (std::size_t i = 1; !log.bank_share.empty() && i < log.rows(); ++i) {
      double fuel = 0;
      for (const auto& series : log.fuel_mg) fuel += series[i];
      if (std::abs(log.fuel_mg[bank][i] / fuel - log.bank_share[bank][i]) > least_difference)
        seconds += (std::min)(log.time_s[i] - log.time_s[i - 1], 1.0);
    }
  return seconds > least_s;
}

/// The dynamics with the flows of banks held that these logs cannot tell; that of the first belongs to the map's level.
[[nodiscard]] inline dynamics hold_hidden_flows(const std::vector<recording>& logs, dynamics start) {
  for (std::size_t b = 0; b < start.banks.size(); ++b) {
    parameter& flow = start.banks[b].flow;
    if (b == 0 || !shares_differ(logs, b)) flow = parameter::held(flow.name, flow.value);
  }
  return start;
}

/// Everything that is sought in these logs.
[[nodiscard]] inline unknowns make_unknowns(const std::vector<recording>& logs, const dynamic_table<double>& base,
                                            const dynamics& start, const identify_options& options) {
  bool parts = false;
  std::size_t names = 0;
  const std::string* last = nullptr;
  for (const auto& log : logs) {
    if (last == nullptr || *last != log.name) ++names;
    last = &log.name;
    for (const auto& sensor : log.sensors) parts = parts || !sensor.cylinders.empty();
  }
  unknowns all(base.axes(), options.trims.axes, parts ? static_cast<std::size_t>(logs.front().cylinders) : 0,
               options.spreads);
  for (std::size_t l = 0; names > 1 && l < names; ++l)
    all.add({.what = scalar_unknown::kind::log_level, .index = l, .spread = options.spreads.log_level});
  const auto calibrated =
      static_cast<std::size_t>(std::count_if(start.sensors.begin(), start.sensors.end(),
                                             [&](const auto& one) { return is_calibrated(one, options.spreads); }));
  if (calibrated > 0 && calibrated < start.sensors.size())  // the level hangs on those that are calibrated
    all.add({.what = scalar_unknown::kind::shared_gain, .spread = options.spreads.shared_gain});
  std::size_t place = 0;
  dynamics::for_each(start, [&](const parameter& one) {
    const parameter_place part(place, start.banks.size());
    if (one.is_free())
      all.add({.what = part.is_gain ? scalar_unknown::kind::gain : scalar_unknown::kind::parameter,
               .index = part.is_gain ? part.sensor : place,
               .prior = std::log(one.value),
               .spread = one.spread,
               .lowest = std::log(one.lowest),
               .highest = std::log(one.highest)});
    ++place;
  });
  return all;
}

/// The covariance of the cells' logarithms, and of what all cells share.
struct cell_covariance {
  Eigen::MatrixXd between;
  double common = 0;
};
[[nodiscard]] inline cell_covariance split_common(const posterior& found, const unknowns& all) {
  const auto cells = static_cast<Eigen::Index>(all.cells()), n = static_cast<Eigen::Index>(all.size());
  const auto first = static_cast<Eigen::Index>(all.first_scalar());
  Eigen::MatrixXd to_cells = Eigen::MatrixXd::Zero(cells, n - first);  // from the scalars, beside each cell's own
  Eigen::VectorXd gains = Eigen::VectorXd::Zero(n), levels = Eigen::VectorXd::Zero(n);
  double gain_weight = 0, logs = 0;
  const bool shares = std::any_of(all.scalars().begin(), all.scalars().end(),
                                  [](const auto& one) { return one.what == scalar_unknown::kind::shared_gain; });
  for (std::size_t p = 0; p < all.scalars().size(); ++p) {
    const auto& one = all.scalars()[p];
    const auto k = first + static_cast<Eigen::Index>(p);
    if (one.what == scalar_unknown::kind::level) to_cells.col(k - first).setOnes();
    if (one.what == scalar_unknown::kind::tilt)
      for (std::size_t c = 0; c < all.cells(); ++c)
        to_cells(static_cast<Eigen::Index>(c), k - first) = all.place(one.index, c);
    if (one.what == scalar_unknown::kind::gain) {
      const bool counts = !shares || !(one.spread > all.spreads().calibrated_gain);
      gains[k] = counts ? 1 / (one.spread * one.spread) : 0;
      gain_weight += gains[k];
    }
    if (one.what == scalar_unknown::kind::log_level) levels[k] = 1, ++logs;
  }
  cell_covariance result;
  Eigen::MatrixXd covariance = found.covariance;
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

inline void describe_parameters(const posterior& found, const gauss_newton& whole, const unknowns& all,
                                const dynamics& start, identification& result) {
  const double model_error = whole.options().model_error;
  std::vector<parameter> free;
  dynamics::for_each(start, [&](const parameter& one) {
    if (one.is_free()) free.push_back(one);
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
      result.log_levels.push_back({.name = whole.log_names()[all.scalars()[p].index],
                                   .level = std::exp(found.value[static_cast<std::size_t>(k)]),
                                   .spread = all.scalars()[p].spread});
    if (what != scalar_unknown::kind::parameter && what != scalar_unknown::kind::gain) continue;
    const parameter& prior = free[next++];
    const double own = found.covariance(k, k);
    const bool is_gain = what == scalar_unknown::kind::gain;
    const bool is_flow = !is_gain && parameter_place(all.scalars()[p].index, start.banks.size()).is_flow;
    const parameter_estimate made{
        .prior = prior,
        .value = std::clamp(std::exp(found.value[static_cast<std::size_t>(k)]), prior.lowest, prior.highest),
        .relative_error = std::sqrt(own + (is_gain || is_flow ? 0 : model_error * model_error)),
        .reading_error = std::sqrt(own),
        .identified_share = std::clamp(1 - own / (prior.spread * prior.spread), 0.0, 1.0)};
    if (is_gain) {
      result.gains[all.scalars()[p].index] = made;
      continue;
    }
    result.parameters.push_back(made);
    for (std::size_t q = 0; q < where.size(); ++q) {
      const double correlation = found.covariance(k, where[q]) / std::sqrt(own * found.covariance(where[q], where[q]));
      if (std::abs(correlation) > 0.95) result.correlated.push_back({names[q], prior.name, correlation});
    }
    where.push_back(k);
    names.push_back(prior.name);
  }
}

/// What the readings had to do with each cell.
inline void count_readings(const gauss_newton& found, std::size_t cells, identification& result) {
  result.seconds.assign(cells, 0.0);
  for (const auto& model : found.models()) model.add_usage(result.seconds);
  result.readings.assign(cells, 0.0);
  result.agreement.assign(cells, 0.0);
  result.lean_end_share.assign(cells, 0.0);
  result.rejected.resize(found.now().with.sensors.size());
  pass_counter passes(cells);
  double counting = 0;
  std::vector<double> sizes;
  for (const auto& one : found.channels())
    for (std::size_t i = 0; i < one.rejected.size(); ++i) {
      result.rejected[one.sensor].add(one.rejected[i]);
      const moment from = one.origin.from[i];
      if (one.rejected[i] != rejection::stood_at_lean_end || !(from.fraction >= 0)) continue;
      one.model->add_residency(from, 1, result.lean_end_share);  // tells no mixture, but forbids leaning
      one.model->add_residency(from, 1, result.readings);
    }
  found.for_each_reading([&](const channel& one, std::size_t i) {
    const moment from = one.origin.from[i];
    if (one.kind[i] == evidence_kind::lean_end) one.model->add_residency(from, 1, result.lean_end_share);
    const double weight = found.errors().weigh(one, i, loss::tukey).robust;
    ++counting;
    if (weight == 0) ++result.misfits;
    if (one.kind[i] == evidence_kind::measured) sizes.push_back(std::abs(static_cast<double>(one.residual[i])));
    one.model->add_residency(from, 1, result.readings);
    one.model->add_residency(from, weight, result.agreement);
    one.model->for_each_cell(from.row, [&](std::size_t cell, double share) {
      passes.add(cell, share, one.part, one.model->log().time_s[i]);
    });
  });
  result.passes = passes.count();
  result.noise = median_scale(std::move(sizes));
  if (counting > 0) result.misfits /= counting;
  for (std::size_t k = 0; k < cells; ++k)
    if (result.readings[k] > 0) {
      result.agreement[k] /= result.readings[k];
      result.lean_end_share[k] /= result.readings[k];
    }
}

/// How far the readings of each sensor lie from the model.
[[nodiscard]] inline std::vector<sensor_scatter> scatter_of_sensors(const gauss_newton& found) {
  std::vector<sensor_scatter> result(found.now().with.sensors.size());
  std::vector<std::vector<double>> sizes(result.size());
  std::vector<double> counting(result.size(), 0.0);
  found.for_each_reading([&](const channel& one, std::size_t i) {
    ++counting[one.sensor];
    if (found.errors().weigh(one, i, loss::tukey).robust == 0) ++result[one.sensor].misfits;
    if (one.kind[i] == evidence_kind::measured)
      sizes[one.sensor].push_back(std::abs(static_cast<double>(one.residual[i])));
  });
  for (std::size_t s = 0; s < result.size(); ++s) {
    result[s].noise = median_scale(std::move(sizes[s]));
    if (counting[s] > 0) result[s].misfits /= counting[s];
  }
  return result;
}

}  // namespace detail

FETTLE_INLINE identification identify(const std::vector<recording>& logs, const dynamic_table<double>& base,
                                      const dynamics& asked, identify_options options,
                                      const std::function<void(double)>& progress) {
  constexpr double enough_readings = 100000;
  if (!options.trims.is_given) options.trims = detail::coarse_trims(base);
  detail::check_identify(logs, base, asked, options.trims);
  const dynamics start = detail::hold_hidden_flows(logs, asked);
  const detail::unknowns all = detail::make_unknowns(logs, base, start, options);
  double readings = 0;
  for (const auto& log : logs) readings += static_cast<double>(log.rows() * log.sensors.size());
  identification result;
  detail::gauss_newton whole(logs, base, start, options, all);
  if (readings > 1.5 * enough_readings) {  // a look at part of a long log brings all of it near its answer
    std::vector<recording> part;
    for (const auto& log : logs)
      for (auto& stretch : detail::stretches(log, enough_readings / readings)) part.push_back(std::move(stretch));
    detail::gauss_newton few(part, base, start, options, all);
    result.rounds += few.run((std::min)(8, options.most_rounds), {});
    whole.resume(few);
  }
  result.rounds += whole.run((std::max)(options.most_rounds - result.rounds, 2), progress);
  result.settled = whole.settled();
  detail::count_readings(whole, base.size(), result);
  result.scatter = detail::scatter_of_sensors(whole);
  result.exhaust_flow_share = exhaust_flow_share(logs, base, options.screen);
  const detail::posterior found = detail::conclusion(whole, all, options).combine();
  detail::describe_parameters(found, whole, all, start, result);
  whole.move_to(found.value);
  result.correction = whole.now().correction;
  result.with = whole.now().with;
  result.strengths = whole.strength();
  if (all.cylinders() > 0) {
    std::vector<parameter> gains;
    for (const auto& sensor : start.sensors) gains.push_back(sensor.gain);
    detail::describe_trims(found, whole.now(), all, result.cylinders);
    detail::count_cylinder_readings(whole, all, result.cylinders);
    detail::describe_places(whole, all, options, result.cylinders);
    detail::describe_stays(whole, all, options, gains, result.cylinders);
  }
  auto [between, common] = detail::split_common(found, all);
  for (Eigen::Index k = 0; k < between.rows(); ++k)
    result.standard_error.push_back(std::sqrt((std::max)(between(k, k), 0.0)));
  result.covariance = std::move(between);
  result.common_error = common;
  return result;
}

}  // namespace fettle

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

#include "fettle/compiled.hpp"
#include "fettle/error.hpp"
#include "fettle/lambda/detail/check_identify.hpp"
#include "fettle/lambda/detail/describe_cylinders.hpp"
#include "fettle/lambda/detail/describe_map.hpp"
#include "fettle/lambda/detail/gauss_newton.hpp"
#include "fettle/lambda/detail/make_unknowns.hpp"
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

/// The dynamics with the trends of film times held of those banks where a search does not show any: where they are no
/// further from their priors than model and readings err in one case of a hundred (chi-square, two degrees of freedom).
[[nodiscard]] inline dynamics hold_unseen_trends(dynamics start, const gauss_newton& seen) {
  constexpr double seen_from = 9.21;
  std::vector<double> distance(start.banks.size(), 0.0);
  std::size_t place = 0;
  dynamics::for_each(start, [&](const parameter&) {
    const parameter_place part(place, start.banks.size());
    if (part.is_trend) distance[part.bank] += std::pow(seen.distance_from_prior(place), 2);
    ++place;
  });
  for (std::size_t b = 0; b < start.banks.size(); ++b)
    for (auto& trend : start.banks[b].film_time_trend)
      if (trend.is_free() && !(distance[b] > seen_from)) trend = parameter::held(trend.name, trend.value);
  return start;
}

/// Stretches of all logs that make up about this share of them.
[[nodiscard]] inline std::vector<recording> thinned(const std::vector<recording>& logs, double share) {
  std::vector<recording> result;
  for (const auto& log : logs)
    for (auto& stretch : stretches(log, share)) result.push_back(std::move(stretch));
  return result;
}

}  // namespace detail

FETTLE_INLINE identification identify(const std::vector<recording>& logs, const dynamic_table<double>& base,
                                      const dynamics& start, identify_options options,
                                      const std::function<void(double)>& progress) {
  constexpr double enough_rows = 100000, largest_look = 1.0 / 3;
  constexpr double still_look = 0.2, still = 0.05;  // of a cell's error
  if (!options.trims.is_given) options.trims = detail::coarse_trims(base);
  detail::check_identify(logs, base, start, options.trims);
  const dynamics widest = detail::hold_hidden_flows(logs, start);
  const detail::unknowns all_at_first = detail::make_unknowns(logs, base, widest, options);
  double rows = 0;
  for (const auto& log : logs) rows += static_cast<double>(log.rows());
  identification result;
  // A look at part of the logs says what must be sought, and brings all of them near their answer.
  const double share = (std::min)(largest_look, enough_rows / rows);
  const std::vector<recording> part = detail::thinned(logs, share);
  detail::gauss_newton few(part, base, widest, options, all_at_first);
  result.rounds = few.run((std::min)(8, options.most_rounds), still_look, {});
  const dynamics sought = detail::hold_unseen_trends(widest, few);
  const detail::unknowns all = detail::make_unknowns(logs, base, sought, options);
  detail::gauss_newton whole(logs, base, sought, options, all);
  whole.resume(few);
  result.rounds += whole.run((std::max)(options.most_rounds - result.rounds, 2), still, progress);
  result.settled = whole.settled();
  result.last_move = whole.last_move();
  detail::count_readings(whole, base.size(), result);
  result.exhaust_flow_share = exhaust_flow_share(logs, base, options.screen);
  const detail::posterior answer = detail::conclusion(whole, all, options).combine();
  detail::describe_parameters(answer, whole, all, sought, result);
  whole.move_to(answer.value);
  result.correction = whole.readings().now().correction;
  result.with = whole.readings().now().with;
  result.strengths = whole.strength();
  if (all.cylinders() > 0) {
    std::vector<parameter> gains;
    for (const auto& sensor : sought.sensors) gains.push_back(sensor.gain);
    detail::describe_trims(answer, whole.readings().now(), all, result.cylinders);
    detail::count_cylinder_readings(whole, all, result.cylinders);
    detail::describe_places(whole.readings(), all, options, result.cylinders);
    detail::describe_stays(whole.readings(), all, options, gains, result.cylinders);
  }
  auto [between, common] = detail::split_common(answer, all);
  for (Eigen::Index k = 0; k < between.rows(); ++k)
    result.standard_error.push_back(std::sqrt((std::max)(between(k, k), 0.0)));
  result.covariance = std::move(between);
  result.common_error = common;
  return result;
}

}  // namespace fettle

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
  result.exhaust_flow_share = exhaust_flow_share(logs, base, options.screen);
  const detail::posterior answer = detail::conclusion(whole, all, options).combine();
  detail::describe_parameters(answer, whole, all, start, result);
  whole.move_to(answer.value);
  result.correction = whole.readings().now().correction;
  result.with = whole.readings().now().with;
  result.strengths = whole.strength();
  if (all.cylinders() > 0) {
    std::vector<parameter> gains;
    for (const auto& sensor : start.sensors) gains.push_back(sensor.gain);
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

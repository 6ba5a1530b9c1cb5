// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <string>
#include <vector>

#include "fettle/error.hpp"
#include "fettle/lambda/correct.hpp"
#include "fettle/lambda/cylinders.hpp"

namespace fettle {

/// How far one pass may trim a cylinder, on what evidence, and when a lean cylinder must be called out.
struct trim_limits {
  double richer = 0.05;           ///< most fuel added to a cylinder, as a fraction of it
  double leaner = 0.03;           ///< most fuel taken from a cylinder: less, because a lean cylinder fails first
  double fewest_readings = 20;    ///< sum of interpolation weights below which a cell is held
  double largest_error = 0.01;    ///< standard error of a trim above which a cell is held
  double lean_alarm = 0.03;       ///< a cylinder's lambda this far above the target is an alarm,
  double collector_slack = 0.02;  ///< the more so when the collector is within this of the target
};

/// What is loaded, and what becomes of each cylinder. Shape: [cylinder][cell].
struct equalisation {
  std::vector<std::vector<double>> applied;    ///< multiplier of fuel, mean 1 in every cell, within authority
  std::vector<std::vector<cell_state>> state;  ///< `limited` where authority or the mean of 1 cut what was asked
};

/// Trims within the authority of one pass.
///
/// Only trims that are told apart from sensor gains are followed, by as much as their standard error allows (see
/// `correct`). What authority leaves of the wishes is cut back on one side, richer or leaner, until the mean is 1: the
/// collector stays where it is, and no cylinder moves further than it asks for, or the other way, to pay for another.
/// Errors: `fettle::error` when a limit has no meaning.
[[nodiscard]] inline equalisation equalise(const cylinder_trims& found, const trim_limits& limits = {}) {
  if (!(limits.richer >= 0 && limits.leaner >= 0 && limits.leaner < 1 && limits.largest_error > 0))
    throw error("equalise: authority must be at least 0 (lean-ward below 1) and the largest error above 0");
  constexpr double worth_saying = 1e-3;  // of what the mean of 1 costs; what authority cuts is always said
  const std::size_t cylinders = found.correction.size(), cells = cylinders > 0 ? found.correction[0].size() : 0;
  equalisation result{
      .applied = std::vector<std::vector<double>>(cylinders, std::vector<double>(cells, 1.0)),
      .state = std::vector<std::vector<cell_state>>(cylinders, std::vector<cell_state>(cells, cell_state::unknown))};
  std::vector<std::size_t> followed;
  std::vector<double> wish;
  for (std::size_t k = 0; k < cells; ++k) {
    followed.clear();
    wish.clear();
    for (std::size_t i = 0; i < cylinders; ++i) {
      if (!(found.readings[i][k] > 0)) continue;
      result.state[i][k] = cell_state::held;
      const double error = found.standard_error[i][k];
      if (!found.told.trim[i] || !(found.readings[i][k] >= limits.fewest_readings && error < limits.largest_error))
        continue;
      const double confidence = (std::min)(1.0, 2 * (1 - error / limits.largest_error));
      followed.push_back(i);
      wish.push_back(confidence * (found.correction[i][k] - 1));
    }
    double richer = 0, leaner = 0;
    const auto within = [&](double one) { return std::clamp(one, -limits.leaner, limits.richer); };
    for (const double one : wish) (one > 0 ? richer : leaner) += std::abs(within(one));
    // One side gives way until both are equal.
    const double of_richer = richer > leaner ? leaner / richer : 1, of_leaner = leaner > richer ? richer / leaner : 1;
    for (std::size_t n = 0; n < followed.size(); ++n) {
      const double allowed = within(wish[n]), given = allowed * (wish[n] > 0 ? of_richer : of_leaner);
      result.applied[followed[n]][k] = 1 + given;
      const bool less = allowed != wish[n] || std::abs(given) < std::abs(allowed) - worth_saying;
      result.state[followed[n]][k] = less ? cell_state::limited : cell_state::changed;
    }
  }
  return result;
}

/// One cell of the trim maps, as the engine ran there.
struct region {
  std::size_t cell = 0;
  double seconds = 0;
  double collector_lambda = 1, target_lambda = 1;
  std::size_t leanest = 0;  ///< cylinder, 1 ..
  double leanest_lambda = 1, leanest_after = 1;
  double spread_before = 0, spread_after = 0;  ///< of lambda, leanest less richest, over the collector's
  bool lean_alarm = false;                     ///< a cylinder is lean beyond the limit
  bool hidden = false;                         ///< and the collector does not show it
};

/// The leanest cylinder beside the collector's mean, wherever the engine ran.
///
/// Lambda of a cylinder = collector's lambda * the trim it needs, since all get the same fuel. Common practice, no
/// source: at target mean, one or two lean cylinders hide behind rich ones.
[[nodiscard]] inline std::vector<region> regions(const cylinder_trims& found, const equalisation& after,
                                                 const trim_limits& limits = {}) {
  std::vector<region> result;
  for (std::size_t k = 0; k < found.seconds.size(); ++k) {
    if (!(found.seconds[k] > 0)) continue;
    region one{.cell = k,
               .seconds = found.seconds[k],
               .collector_lambda = found.collector_lambda[k],
               .target_lambda = found.target_lambda[k]};
    double low = 1e9, high = 0, low_after = 1e9, high_after = 0;
    for (std::size_t i = 0; i < found.correction.size(); ++i) {
      const double before = found.correction[i][k], then = before / after.applied[i][k];
      if (before > high) one.leanest = i + 1;
      low = (std::min)(low, before);
      high = (std::max)(high, before);
      low_after = (std::min)(low_after, then);
      high_after = (std::max)(high_after, then);
    }
    one.leanest_lambda = one.collector_lambda * high;
    one.leanest_after = one.collector_lambda * high_after;
    one.spread_before = high - low;
    one.spread_after = high_after - low_after;
    one.lean_alarm = one.leanest_lambda > one.target_lambda * (1 + limits.lean_alarm);
    one.hidden = one.lean_alarm && std::abs(one.collector_lambda / one.target_lambda - 1) < limits.collector_slack;
    result.push_back(one);
  }
  return result;
}

}  // namespace fettle

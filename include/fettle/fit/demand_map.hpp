// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <string>
#include <utility>
#include <vector>

#include "fettle/error.hpp"
#include "fettle/fit/invert_table.hpp"
#include "fettle/map/dynamic_table.hpp"
#include "fettle/map/interpolate.hpp"
#include "fettle/map/inverse.hpp"

namespace fettle {

/// What a driver asks for by the pedal: a share of the torque between closed and open throttle at the engine's speed.
struct pedal_curve {
  std::vector<double> pedal_pct{0, 100};
  std::vector<double> torque_share{0, 1};  ///< 0 to 1, not falling
};

/// How fast the throttle's actuator and the driver's foot move; 0: no limit.
struct pedal_rates {
  double actuator_pct_per_s = 0;
  double pedal_pct_per_s = 0;  ///< the fastest movement of the pedal that the throttle has to follow
};

/// Throttle over engine speed and pedal.
struct demand_map {
  dynamic_table<double> throttle_pct;
  double steepest = 0;       ///< largest slope, in % of throttle per % of pedal
  double excess_share = 0;   ///< largest torque above the curve, as a share, that the actuator's rate has cost
  double between_share = 0;  ///< largest distance from the curve half way between pedal breakpoints, as a share
};

namespace detail {

inline void require_pedal_curve(const pedal_curve& curve, const pedal_rates& rates) {
  const auto refuse = [](const std::string& why) { throw error("pedal curve: " + why); };
  if (check_axis(curve.pedal_pct.data(), curve.pedal_pct.size()).fault != axis_fault::none)
    refuse("expected two or more pedal positions, each above the one before");
  if (curve.torque_share.size() != curve.pedal_pct.size())
    refuse("has " + std::to_string(curve.torque_share.size()) + " torque shares for " +
           std::to_string(curve.pedal_pct.size()) + " pedal positions, expected one each");
  for (std::size_t i = 0; i < curve.torque_share.size(); ++i) {
    const double share = curve.torque_share[i];
    if (!(share >= 0 && share <= 1) || (i > 0 && share < curve.torque_share[i - 1]))
      refuse("has torque share " + std::to_string(share) + " at " + std::to_string(curve.pedal_pct[i]) +
             " % of pedal, expected 0 to 1 and never less than before");
  }
  if (!(rates.actuator_pct_per_s >= 0 && rates.pedal_pct_per_s >= 0)) refuse("rates may not be negative");
}

/// Opens earlier where a line rises more steeply than allowed; gives what is left of the excess at the first point.
inline void limit_steepness(std::vector<double>& throttle, const std::vector<double>& pedal, double steepest) {
  for (std::size_t k = throttle.size() - 1; k-- > 0;)
    throttle[k] = (std::max)(throttle[k], throttle[k + 1] - steepest * (pedal[k + 1] - pedal[k]));
}

}  // namespace detail

/// Throttle over speed and pedal, so that torque follows the pedal as a curve says.
///
/// With a throttle per cylinder most of the torque comes in the first part of its travel, more so at low speed: a
/// throttle that follows the pedal one to one makes the car jerk when the pedal is touched and leaves nothing for the
/// rest of its travel (common practice, no source).
/// @param torque_nm  over engine speed and throttle in percent; does not fall as the throttle opens.
/// @param rates      where the throttle would have to open faster than its actuator moves while the pedal moves at its
///                   fastest, it opens earlier: full pedal still gives full torque, and `excess_share` says what it
///                   costs.
/// @param pedal_pct  the new map's breakpoints; the finer near a closed pedal, the smaller `between_share`.
/// @return           the smallest throttle that gives the torque.
/// Errors:           `fettle::error` naming the fault of curve or map, or the speed at which the actuator cannot follow.
[[nodiscard]] inline demand_map make_demand_map(const dynamic_table<double>& torque_nm,
                                                const dynamic_axis<double>& pedal_pct, const pedal_curve& curve = {},
                                                const pedal_rates& rates = {}) {
  detail::require_pedal_curve(curve, rates);
  if (torque_nm.rank() != 2) throw error("pedal map: expected torque over engine speed and throttle, a map of rank 2");
  const detail::table_lines lines(torque_nm, 1);
  const auto& pedal = pedal_pct.points();
  const auto& axis = torque_nm.axes()[1];
  const map_view<1, double> wanted{{{{curve.pedal_pct.data(), curve.pedal_pct.size()}}}, curve.torque_share.data()};
  std::vector<double> wanted_share(pedal.size());
  for (std::size_t k = 0; k < pedal.size(); ++k) wanted_share[k] = interpolate(wanted, pedal[k]);
  std::vector<double> all;
  demand_map result{.throttle_pct = torque_nm};
  const bool is_limited = rates.actuator_pct_per_s > 0 && rates.pedal_pct_per_s > 0;
  const double allowed = is_limited ? rates.actuator_pct_per_s / rates.pedal_pct_per_s : 0;
  for (std::size_t line = 0; line < lines.count(); ++line) {
    detail::require_monotone(torque_nm, lines, line);
    const auto values = lines.values(torque_nm, line);
    const double closed_nm = values.front(), range_nm = values.back() - closed_nm;
    if (!(range_nm > 0))
      throw error("pedal map: torque does not rise with the throttle at " +
                  detail::breakpoints_of(torque_nm, lines.index(line, 0, values.size())) +
                  ", expected more torque with an open throttle");
    const map_view<1, double> torque{{{{axis.points().data(), axis.size()}}}, values.data()};
    std::vector<double> throttle(pedal.size());
    const auto share = [&](double at) { return (interpolate(torque, at) - closed_nm) / range_nm; };
    for (std::size_t k = 0; k < pedal.size(); ++k)
      throttle[k] = detail::answer(torque, (std::min)(closed_nm + wanted_share[k] * range_nm, values.back())).from;
    const double rest = throttle.front();
    if (is_limited) detail::limit_steepness(throttle, pedal, allowed);
    if (throttle.front() > rest)
      throw error("pedal map: at " + detail::breakpoints_of(torque_nm, lines.index(line, 0, values.size())) +
                  " the throttle cannot follow the pedal from end to end: " + std::to_string(rates.actuator_pct_per_s) +
                  " %/s of throttle for " + std::to_string(rates.pedal_pct_per_s) +
                  " %/s of pedal, expected a faster actuator");
    for (std::size_t k = 0; k < pedal.size(); ++k) {
      result.excess_share = (std::max)(result.excess_share, share(throttle[k]) - wanted_share[k]);
      if (k == 0) continue;
      result.steepest = (std::max)(result.steepest, (throttle[k] - throttle[k - 1]) / (pedal[k] - pedal[k - 1]));
      const double middle = share((throttle[k] + throttle[k - 1]) / 2);
      result.between_share =
          (std::max)(result.between_share, std::abs(middle - interpolate(wanted, (pedal[k] + pedal[k - 1]) / 2)));
    }
    all.insert(all.end(), throttle.begin(), throttle.end());
  }
  result.throttle_pct = *dynamic_table<double>::from({torque_nm.axes()[0], pedal_pct}, std::move(all));
  return result;
}

}  // namespace fettle

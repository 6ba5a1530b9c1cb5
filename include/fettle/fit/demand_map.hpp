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
  double missing_share = 0;  ///< largest torque below it
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
      refuse("has torque share " + short_text(share) + " at " + short_text(curve.pedal_pct[i]) +
             " % of pedal, expected 0 to 1 and never less than before");
  }
  if (!(rates.actuator_pct_per_s >= 0 && rates.pedal_pct_per_s >= 0)) refuse("rates may not be negative");
}

/// Largest distances of a throttle's torque from what the pedal asks for, above and below, as shares.
struct torque_error {
  double above = 0, below = 0;
  [[nodiscard]] double largest() const noexcept { return (std::max)(above, below); }
};

template <class Share>
[[nodiscard]] torque_error error_of(const std::vector<double>& throttle, const std::vector<double>& wanted,
                                    Share&& share) {
  torque_error result;
  for (std::size_t k = 0; k < throttle.size(); ++k) {
    const double off = share(throttle[k]) - wanted[k];
    result.above = (std::max)(result.above, off);
    result.below = (std::max)(result.below, -off);
  }
  return result;
}

/// A line that rises no more steeply than allowed: opened earlier than asked, so that its end is kept.
[[nodiscard]] inline std::vector<double> opened_earlier(std::vector<double> throttle, const std::vector<double>& pedal,
                                                        double steepest) {
  for (std::size_t k = throttle.size() - 1; k-- > 0;)
    throttle[k] = (std::max)(throttle[k], throttle[k + 1] - steepest * (pedal[k + 1] - pedal[k]));
  return throttle;
}

/// The same, opened later than asked, so that its beginning is kept.
[[nodiscard]] inline std::vector<double> opened_later(std::vector<double> throttle, const std::vector<double>& pedal,
                                                      double steepest) {
  for (std::size_t k = 1; k < throttle.size(); ++k)
    throttle[k] = (std::min)(throttle[k], throttle[k - 1] + steepest * (pedal[k] - pedal[k - 1]));
  return throttle;
}

}  // namespace detail

/// Throttle over speed and pedal, so that torque follows the pedal as a curve says.
///
/// With a throttle per cylinder most of the torque comes in the first part of its travel, more so at low speed: a
/// throttle that follows the pedal one to one makes the car jerk when the pedal is touched and leaves nothing for the
/// rest of its travel (common practice, no source).
/// @param torque_nm  over engine speed and throttle in percent; does not fall as the throttle opens.
/// @param rates      where the throttle would have to open faster than its actuator moves while the pedal moves at its
///                   fastest, it opens earlier or, where that costs less, not quite as far: `excess_share` and
///                   `missing_share` say what it costs.
/// @param pedal_pct  the new map's breakpoints; the finer near a closed pedal, the smaller `between_share`.
/// @return           the smallest throttle that gives the torque.
/// Errors:           `fettle::error` naming the fault of curve or map.
/// Source:           the inverse of every line of torque over throttle, its slope bounded by the quotient of the rates.
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
                  cell_text(torque_nm.axes(), lines.index(line, 0, values.size())) +
                  ", expected more torque with an open throttle");
    const map_view<1, double> torque{{{{axis.points().data(), axis.size()}}}, values.data()};
    std::vector<double> throttle(pedal.size());
    const auto share = [&](double at) { return (interpolate(torque, at) - closed_nm) / range_nm; };
    for (std::size_t k = 0; k < pedal.size(); ++k)
      throttle[k] = detail::answer(torque, (std::min)(closed_nm + wanted_share[k] * range_nm, values.back())).from;
    if (is_limited) {
      const auto earlier = detail::opened_earlier(throttle, pedal, allowed);
      const auto later = detail::opened_later(throttle, pedal, allowed);
      const bool rests = earlier.front() == throttle.front();  // else it would idle with an open throttle
      throttle = rests && detail::error_of(earlier, wanted_share, share).largest() <
                              detail::error_of(later, wanted_share, share).largest()
                     ? earlier
                     : later;
    }
    const auto error = detail::error_of(throttle, wanted_share, share);
    result.excess_share = (std::max)(result.excess_share, error.above);
    result.missing_share = (std::max)(result.missing_share, error.below);
    for (std::size_t k = 1; k < pedal.size(); ++k) {
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

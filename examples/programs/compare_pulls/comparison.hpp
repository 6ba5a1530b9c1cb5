// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <vector>

#include "compare_pulls/clustered.hpp"
#include "compare_pulls/coast_fit.hpp"
#include "compare_pulls/pull.hpp"
#include "compare_pulls/settings.hpp"

namespace compare_pulls {

/// Torque before and after at one engine speed.
struct torque_point {
  double rpm = 0, before_nm = 0, after_nm = 0;
  estimate gain{};  ///< after over before, less one
};

/// The result of a comparison.
struct comparison {
  std::vector<torque_point> points{};
  estimate gain{};  ///< of the mean torque over all these speeds
  double before_nm = 0, after_nm = 0;
  std::array<std::optional<estimate>, 2> engine_kgm2{};  ///< where the pulls identify it
  std::optional<estimate> inertia_change{};              ///< after less before
  bool by_sets = false;                                  ///< whether a unit is a set of pulls; else it is a single pull
  std::array<std::size_t, 2> units{};
  std::size_t units_needed =
      0;                     ///< before, and as many after, for the gain asked for; 0: more than 500, or no number does
  double smallest_gain = 0;  ///< that this many units show with 95 % probability; NaN: none below 50 %
};

/// Compares the pulls before and after a change.
///
/// @param load    the road load; from `coasts` where these were driven, whose errors then count.
/// Errors: `fettle::error` when there are too few pulls, no speeds in common, or nothing that identifies the inertia.
[[nodiscard]] comparison compare(const settings& settings, const std::vector<pull>& pulls,
                                 const fettle::road_load<double>& load, const coast_fit* coasts = nullptr);

}  // namespace compare_pulls

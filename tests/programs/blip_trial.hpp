// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <cstdint>

#include "fettle/vehicle/blip.hpp"
#include "fettle/vehicle/shift.hpp"
#include "virtual_engine/car.hpp"
#include "virtual_engine/maps.hpp"

namespace blip_trial {

/// Largest error of the new speed, as a fraction, over down-shifts of the virtual car whose torque comes stroke by stroke.
/// The map is exact at its breakpoints, times a factor.
[[nodiscard]] inline double largest_error(std::uint64_t seed, double map_factor) {
  const virtual_engine::car_truth truth = virtual_engine::car_truth::from_seed(seed);
  const auto map = virtual_engine::sampled(
      virtual_engine::map_axes{}, [&](double rpm, double pct) { return map_factor * truth.torque_nm(rpm, pct); });
  const fettle::free_engine<double> engine{.torque_nm = map.view<2>(),
                                           .inertia_kgm2 = truth.body.turning.engine_kgm2,
                                           .closed_pct = 0,
                                           .actuator_pct_per_s = 1000,
                                           .delay_rev = 1.2};  // one revolution, and half a stroke to the next
  double largest = 0;
  for (std::size_t gear = 2; gear <= truth.ratios.size(); ++gear)
    for (double rpm = 2500; rpm < 7500; rpm += 250) {
      const double wanted = fettle::rpm_after_shift(rpm, truth.ratios[gear - 1], truth.ratios[gear - 2]);
      if (wanted > 8800) continue;
      const auto blip = fettle::plan_blip<double>(engine, {rpm, wanted, 0.15, 0.5, 40});
      if (blip.status != fettle::blip_status::in_time && blip.status != fettle::blip_status::late) continue;
      const double reached = virtual_engine::free_rev_rpm(
          truth, rpm, blip.pulse.duration_s, [&](double time_s) { return blip.pulse.at(time_s, 0, 1000); });
      largest = std::max(largest, std::abs(reached / wanted - 1));
    }
  return largest;
}

}  // namespace blip_trial

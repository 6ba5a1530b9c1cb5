// SPDX-License-Identifier: MIT
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "common/vehicle/read_vehicle.hpp"
#include "fettle/io/map_file.hpp"

namespace plan_shifts {

/// What plan_shifts is asked.
struct settings {
  std::filesystem::path path, torque_path;
  std::string title;
  vehicle::described_car vehicle;
  double lowest_rpm = 2000, limit_rpm = 0;
  double closed_pct = 0, actuator_pct_per_s = 0, delay_rev = 1;  ///< of the throttle
  double cut_latency_s = 0.005;  ///< from the request of a torque cut to the first stroke that does not fire
  double shift_s = 0.06;         ///< the gearbox's own time, dogs out to dogs in
  double blip_s = 0.15, longest_blip_s = 0.5;
  double engagement_s = 0.03;                       ///< in which clutch or dogs bring the speeds together
  double speed_error_pct = 5;                       ///< for which the jolt at the wheels is stated
  std::vector<double> overrun_rpm{}, overrun_nm{};  ///< torque without combustion; empty: the map at closed throttle
  std::vector<double> guard_rpm{}, guard_throttle_pct{};  ///< a second bank of injectors opens above it; empty: none
};

}  // namespace plan_shifts

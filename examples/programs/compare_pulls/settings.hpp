// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "fettle/io/log_csv.hpp"
#include "fettle/vehicle/motion.hpp"

namespace compare_pulls {

/// Where torque comes from.
enum class torque_source : std::uint8_t {
  dyno,  ///< a column of torque
  road,  ///< acceleration in gear on a closed course
};

/// How torque is corrected to standard air.
enum class air_rule : std::uint8_t { iso_1585, sae_j1349, none };

/// Which way a course was driven: wind from ahead the one way comes from behind the other.
enum class direction : std::int8_t { unknown = 0, out = 1, back = -1 };

/// One log of a coast-down.
struct coast_file {
  std::filesystem::path path;
  direction way = direction::unknown;
};

/// One log of one pull.
struct pull_file {
  std::filesystem::path path;
  std::size_t gear = 0;  ///< from 1; 0 on a dynamometer and for free revving
  std::size_t set = 0;   ///< counted from 0; nothing was taken apart or strapped down again within a set
  direction way = direction::unknown;
  bool is_free = false;  ///< full throttle in neutral: the engine turns only itself and the clutch
};

/// The car as it was before, or after, the change.
struct state_of_car {
  std::string name;
  std::vector<pull_file> pulls{};
  std::optional<double> engine_kgm2{};  ///< rotating inertia at engine speed, when it is known
  std::size_t sets = 0;
};

/// The contents of a session file of compare_pulls.
struct settings {
  std::filesystem::path path;
  std::string title;
  torque_source source = torque_source::dyno;
  air_rule air_correction = air_rule::iso_1585;
  fettle::car<double> car{};                       ///< the engine's inertia is that of a state
  std::vector<fettle::driveline<double>> gears{};  ///< from the first gear
  bool has_road_load = false;                      ///< else from coast-downs
  std::vector<coast_file> coast_downs{};
  std::array<state_of_car, 2> state{};  ///< before, after
  std::vector<fettle::log_channel> columns{};
  double full_throttle_pct = 95;       ///< what counts as full throttle, where the log has throttle_pct
  double between_sets_pct = 0.3;       ///< standard deviation of torque from set to set, for one set of each
  double efficiency_spread_pct = 0.5;  ///< standard deviation of the gears' efficiencies about the one given
  double gain_pct = 1;                 ///< the gain for which the number of pulls is stated
  double from_kmh = 0, to_kmh = 0;     ///< stretch for which seconds are compared; 0: none

  [[nodiscard]] std::vector<std::filesystem::path> files() const {
    std::vector<std::filesystem::path> result{path};
    for (const auto& run : coast_downs) result.push_back(run.path);
    for (const auto& car_state : state)
      for (const auto& pull : car_state.pulls) result.push_back(pull.path);
    return result;
  }
};

}  // namespace compare_pulls

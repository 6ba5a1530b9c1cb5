// SPDX-License-Identifier: MIT
#pragma once

#include <cstdint>
#include <functional>
#include <string>
#include <vector>

#include "fettle/io/log_table.hpp"
#include "virtual_engine/controller.hpp"
#include "virtual_engine/drive.hpp"
#include "virtual_engine/engine.hpp"

namespace virtual_engine {

struct run_options {
  int rate_hz = 100;                   ///< of the log; divides 1000
  bool cylinder_sensors = false;       ///< also log the five sensors in the pipes
  bool noise = true;                   ///< off: sensors read without noise or spikes (gain, lag and rails stay)
  bool keep_truth = false;             ///< also return what no logger sees
  std::uint64_t seed = 1;              ///< of the noise
  std::vector<std::string> columns{};  ///< the only ones to return, of log and truth; empty: all
};

/// A log as the car's logger wrote it and, if asked for, the hidden truth at the same times.
struct run_result {
  fettle::log_table log;
  fettle::log_table
      truth;  ///< air_mg, fuel_mg (reaching the cylinders, mean), phi_collector, phi_1.., film_primary_mg..
};

/// What drives the injectors: called every millisecond; may keep state.
using controller = std::function<injection(const controller_input&)>;

/// Drives the engine under a controller and returns the log.
///
/// Errors: a log rate that does not divide 1000 throws `fettle::error`.
[[nodiscard]] run_result simulate(const engine& e, controller driver, const drive& world,
                                  const run_options& options = {});

}  // namespace virtual_engine

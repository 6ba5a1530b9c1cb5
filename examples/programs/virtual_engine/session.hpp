// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cstdint>
#include <nlohmann/json_fwd.hpp>
#include <string>
#include <vector>

#include "virtual_engine/engine.hpp"

namespace virtual_engine {

/// How well whoever writes the session file knows film, exhaust path and sensors.
enum class knowledge : std::uint8_t {
  exact,
  estimate,  ///< a tuner's guess: each value off by up to a quarter
};

/// The session file: what a tuner knows about the car, and where the files are.
///
/// @param injectors  as described to the controller.
/// @param log_files  beside the session file.
[[nodiscard]] nlohmann::ordered_json session_json(const engine& e, const std::array<injector_bank, banks>& injectors,
                                                  const std::vector<std::string>& log_files, bool cylinder_sensors,
                                                  knowledge known, std::uint64_t seed);

/// What no tuner can see.
[[nodiscard]] nlohmann::ordered_json truth_json(const engine& e, std::uint64_t seed);

}  // namespace virtual_engine

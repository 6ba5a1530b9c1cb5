// SPDX-License-Identifier: MIT
#pragma once

#include <cstdint>

#include "virtual_engine/drive.hpp"

namespace virtual_engine {

/// On the dynamometer: at each of many fixed throttles a slow ramp up over speed, then steady points down again.
[[nodiscard]] drive dyno_drive(std::uint64_t seed, double minutes);

/// One full-throttle pull with the torque measured. Each run has its own weather and its own small drift of torque.
[[nodiscard]] drive pull_drive(std::uint64_t seed, std::uint64_t run = 0);

}  // namespace virtual_engine

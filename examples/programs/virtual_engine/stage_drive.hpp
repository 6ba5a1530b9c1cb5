// SPDX-License-Identifier: MIT
#pragma once

#include <cstdint>

#include "virtual_engine/drive.hpp"

namespace virtual_engine {

/// A driven hill climb: gears, shifts with a fuel cut, hard throttle work, overrun, part throttle; air thins uphill.
[[nodiscard]] drive stage_drive(std::uint64_t seed, double minutes);

}  // namespace virtual_engine

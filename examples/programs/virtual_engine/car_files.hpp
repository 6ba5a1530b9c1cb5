// SPDX-License-Identifier: MIT
#pragma once

#include <cstdint>
#include <filesystem>
#include <vector>

namespace virtual_engine {

/// Writes pulls before and after a change, on a dynamometer and on the road, with coast-downs; a torque map; the sessions
/// of compare_pulls and plan_shifts; and, apart in truth, what is really so. Gives the files a user starts from.
[[nodiscard]] std::vector<std::filesystem::path> write_car(const std::filesystem::path& folder, std::uint64_t seed);

}  // namespace virtual_engine

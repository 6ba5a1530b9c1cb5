// SPDX-License-Identifier: MIT
#pragma once

#include <filesystem>
#include <vector>

#include "virtual_engine/maps.hpp"
#include "virtual_engine/plan_drive.hpp"

namespace virtual_engine {

/// The legs of a plan over rpm and throttle_pct, as correct_map writes it in drive_next.csv.
///
/// @param loaded  the fuel map that is driven, over rpm and throttle_pct: a plan that leaves it was made for another.
/// Errors: `fettle::error` naming the file, the line and what is expected there.
[[nodiscard]] std::vector<planned_leg> read_plan(const std::filesystem::path& path, const map& loaded);

}  // namespace virtual_engine

// SPDX-License-Identifier: MIT
#pragma once

#include <string>

#include "common/session/cell_name.hpp"
#include "common/session/check_units.hpp"
#include "common/session/read_all_logs.hpp"
#include "common/session/read_fuel_map.hpp"
#include "common/session/recording.hpp"
#include "common/session/require_axes.hpp"
#include "correct_map/outcome.hpp"
#include "correct_map/remarks.hpp"
#include "fettle/io/map_csv.hpp"
#include "fettle/io/text.hpp"
#include "fettle/lambda.hpp"
#include "fettle/map/dynamic_stencil.hpp"
#include "fettle/map/dynamic_table.hpp"

namespace correct_map {

/// Lambda over target, less 1, from which on a place where the readings stay lean is called out.
inline constexpr double lean_place_error = 0.03;

/// A corrected value with four decimals, rounded towards the one before: an untouched cell stays as it was to the last
/// digit, and no rounding passes the limit that the decision kept.
[[nodiscard]] double rounded_towards(double before, double value);

using session::stage_progress;

/// How many readings were left out, and why.
[[nodiscard]] std::string rejections_in_words(const fettle::rejection_counts& counts);

/// Reads the map and the logs of a session, and finds the corrected map.
///
/// Errors: `fettle::error` with one message that names the file and place; nothing is written here.
[[nodiscard]] outcome run(session::session session, const run_options& how, const stage_progress& progress);

}  // namespace correct_map

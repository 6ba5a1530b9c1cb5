// SPDX-License-Identifier: MIT
#pragma once

#include <string>

#include "common/session/session.hpp"
#include "fettle/error.hpp"
#include "fettle/io/log_table.hpp"
#include "fettle/io/map_file.hpp"

namespace session {

/// Refuses a log whose lambda is an air-fuel ratio.
///
/// Errors: `fettle::error` naming log, column, value and the factor that is missing.
void refuse_air_fuel_ratio(const session& during_log, const fettle::log_table& log, const std::string& name);

/// Refuses a log that covers a hundredth of one of the map's axes, as 0 to 1 of an axis from 0 to 100. A hundredth of
/// the rows at either end does not count: a glitch would hide the wrong unit.
///
/// Errors: `fettle::error` naming log, axis and the factor that is missing.
void refuse_hundredths(const fettle::map_file& base, const fettle::log_table& log, const std::string& name);

}  // namespace session

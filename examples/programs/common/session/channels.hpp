// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include "common/session/nearest_name.hpp"
#include "common/session/session.hpp"
#include "fettle/error.hpp"
#include "fettle/io/log_csv.hpp"
#include "fettle/io/text.hpp"

namespace session {

/// The columns that a session needs from a log.
///
/// The axes of all maps, time, speed and the sensors fitted are required, and pulses where a bank names their columns;
/// the lambda commanded and the conditions of the moment are used when the log has them.
/// @param setup  the session as it was during this log.
/// @param axes  of the map under correction, and of other maps that the log is read with.
/// Errors: `fettle::error` when /columns gives a name to a column that nothing here reads.
[[nodiscard]] std::vector<fettle::log_channel> wanted_channels(const session& setup,
                                                               const std::vector<std::string>& axes);

}  // namespace session

// SPDX-License-Identifier: MIT
#pragma once

#include <filesystem>
#include <functional>
#include <string>
#include <vector>

#include "common/session/channels.hpp"
#include "common/session/log_maps.hpp"
#include "common/session/session.hpp"
#include "fettle/error.hpp"
#include "fettle/io/log_csv.hpp"
#include "fettle/io/text.hpp"

namespace session {

/// Reads what a session needs from one of its logs.
///
/// @param setup     the session as it was during this log.
/// @param axes      the names of the map's axes.
/// @param progress  called with the stage and its fraction done.
/// Errors: `fettle::error` naming the file and place, for what cannot be read and for rows too far apart in time.
[[nodiscard]] fettle::log_table read_log(
    const session& setup, const std::filesystem::path& path, const std::vector<std::string>& axes,
    const std::function<void(const std::string& stage, double fraction)>& progress);

}  // namespace session

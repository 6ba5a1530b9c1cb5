// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <functional>
#include <string>
#include <vector>

#include "common/session/session.hpp"
#include "fettle/io/log_table.hpp"
#include "fettle/io/map_file.hpp"
#include "fettle/lambda/recording.hpp"

namespace session {

/// All logs of a session as they are identified from.
struct all_logs {
  std::vector<fettle::recording> parts{};  ///< without gaps in time
  std::vector<std::size_t> log_of_part{};
  std::vector<std::string> remarks{};  ///< guesses of the session, and what was assumed of the logs
  std::vector<std::string> dangers{};  ///< why the engine may have run lean unseen
  std::size_t rows = 0;
  double minutes = 0;  ///< without the gaps
};

/// Told of each stage and how far it is.
using stage_progress = std::function<void(const std::string& stage, double fraction)>;

/// Refuses a log: called with the session as it was during the log, the log and the name of its file.
using log_check = std::function<void(const session&, const fettle::log_table&, const std::string& name)>;

/// Reads all logs of a session.
///
/// Errors: as `read_log`, `make_recording` and `check`; `fettle::error` naming two logs that hold the same readings.
[[nodiscard]] all_logs read_all_logs(const session& setup, const fettle::map_file& base, const stage_progress& progress,
                                     const log_check& check);

}  // namespace session

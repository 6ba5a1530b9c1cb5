// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include "common/session/delivery.hpp"
#include "common/session/judge_delivery.hpp"
#include "common/session/log_conditions.hpp"
#include "common/session/log_fuel.hpp"
#include "common/session/log_maps.hpp"
#include "common/session/session.hpp"
#include "common/session/trimmed_readings.hpp"
#include "fettle/error.hpp"
#include "fettle/io/log_table.hpp"
#include "fettle/io/map_file.hpp"
#include "fettle/lambda/dynamics.hpp"
#include "fettle/lambda/prior_spreads.hpp"
#include "fettle/lambda/recording.hpp"
#include "fettle/lambda/screening.hpp"

namespace session {

/// Whether the session's own values of the path stand, or are priors.
enum class path_trust { given, prior };

/// How wrong the latency of a sensor may be, as the standard deviation of its logarithm. It is not sought: revolutions,
/// gas of the pipe and lag take up nearly all that it does.
inline constexpr double latency_spread = 0.3;

/// The dynamics of a session: held at its values, or those values as priors to be found from the logs.
[[nodiscard]] fettle::dynamics make_dynamics(const session& setup, path_trust trust);

/// A log in the quantities that tell fuel from lambda, and what a tuner should know of how it was read.
struct read_recording {
  fettle::recording log;
  std::vector<std::string> remarks;
  std::vector<std::string> dangers{};  ///< why the engine may have run lean unseen
};

/// A log in the quantities that tell fuel from lambda.
///
/// @param setup  the session as it was during this log.
/// @param base  the map under correction.
/// Errors: `fettle::error` when a column that is needed is not there, or when it is not known what fuel was injected:
///         pulses that do not belong to the map, or a closed loop that nothing tells of.
[[nodiscard]] read_recording make_recording(const session& setup, const fettle::map_file& base,
                                            const fettle::log_table& log, const std::string& name);

}  // namespace session

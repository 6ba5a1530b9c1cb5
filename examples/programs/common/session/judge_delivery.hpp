// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include "common/session/delivery.hpp"
#include "common/session/session.hpp"
#include "fettle/error.hpp"

namespace session {

/// Does the ratio of delivered to asked fuel belong to what the map needs? Only when no closed loop can have made it.
[[nodiscard]] bool belongs_to_need(const session& setup, const delivery& fuel, bool loop_is_logged);

/// Remarks on the ratio of delivered to asked fuel: pulses that do not belong to the map make a correction that is wrong
/// everywhere and looks sure of itself, and no reading of lambda can show it.
///
/// Errors: `fettle::error` when the ratio is too far from 1, or changes with something, so that a correction would take
///         it for an error of the map.
[[nodiscard]] std::vector<std::string> judge_delivery(const session& setup, const delivery& fuel, bool loop_is_logged,
                                                      const std::string& name);

}  // namespace session

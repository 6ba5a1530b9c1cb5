// SPDX-License-Identifier: MIT
#pragma once

#include "common/session/session.hpp"
#include "virtual_engine/controller.hpp"
#include "virtual_engine/engine.hpp"

namespace virtual_engine {

/// A bank as a session describes it.
[[nodiscard]] injector_bank as_bank(const session::bank& bank);

/// Refuses a session that is about another engine than the virtual one.
void require_virtual_engine(const session::session& session);

/// The controller of the virtual engine with a session's injectors, fuel map, share map and cylinder trims loaded.
///
/// Without a share map the second bank stays shut until the first is at its limit.
/// Errors: `fettle::error` naming the file or the place in the session that this controller cannot use.
[[nodiscard]] alpha_n_controller controller_of(const session::session& session);

}  // namespace virtual_engine

// SPDX-License-Identifier: MIT
#pragma once

#include "common/session/session.hpp"
#include "fettle/fuel/need.hpp"

namespace session {

/// What turns a cell of the session's map into fuel.
[[nodiscard]] fettle::map_basis<double> basis_of(const session& setup);

}  // namespace session

// SPDX-License-Identifier: MIT
#pragma once

#include <nlohmann/json_fwd.hpp>

#include "virtual_engine/engine.hpp"

namespace virtual_engine {

/// What `add_physics` switched on, with its sizes.
[[nodiscard]] nlohmann::ordered_json physics_json(const engine& e);

}  // namespace virtual_engine

// SPDX-License-Identifier: MIT
#pragma once

#include "common/session/session.hpp"
#include "fettle/io/map_file.hpp"
#include "virtual_engine/engine.hpp"

namespace virtual_session {

/// A sensor as its tuner would describe it; its range ends a little inside the rails.
[[nodiscard]] session::sensor described(const virtual_engine::lambda_sensor& sensor);

/// The session of a virtual engine as its tuner would describe it, in memory, with the true values of path and film.
[[nodiscard]] session::session of_engine(const virtual_engine::engine& e);

/// The sensors in the pipes besides, where the engine has them.
void add_pipe_sensors(session::session& to, const virtual_engine::engine& e);

[[nodiscard]] fettle::map_file as_file(fettle::dynamic_table<double> table);

}  // namespace virtual_session

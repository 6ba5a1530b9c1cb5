// SPDX-License-Identifier: MIT
#pragma once

#include "common/session/log_fuel.hpp"
#include "common/session/log_maps.hpp"
#include "fettle/io/log_table.hpp"
#include "fettle/io/map_file.hpp"
#include "fettle/lambda/dynamics.hpp"
#include "fettle/lambda/reading_model.hpp"
#include "fettle/lambda/recording.hpp"

namespace session {

/// Makes the readings in the pipes what they would have been with the trims under correction, where a log was driven on
/// others: then one correction of the trims explains all logs.
///
/// Each is multiplied by what the model of a reading says for the one over what it says for the other, with films, way and
/// lag as the session has them, so these being wrong matters only as far as a trim changes with the operating point.
/// Readings at an end of the sensor's range stay there.
/// @param with  films, way and lag of the session.
void refer_to_trims(const log_maps& maps, const fettle::map_file& base, const fettle::log_table& log,
                    const fettle::dynamics& with, fettle::recording& recording);

}  // namespace session

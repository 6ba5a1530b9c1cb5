// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <vector>

#include "fettle/compiled.hpp"
#include "fettle/lambda/dynamics.hpp"
#include "fettle/lambda/identification.hpp"
#include "fettle/lambda/identify_options.hpp"
#include "fettle/lambda/recording.hpp"
#include "fettle/map/dynamic_table.hpp"

namespace fettle {

/// Cells of the map, exhaust path, sensor lag, wall films and what each cylinder needs, from the same logs, together.
///
/// @param logs   one or more, each with its own conditions; all with the same banks and sensors.
/// @param base   the map under correction, every cell above zero.
/// @param start  priors of the dynamics: a fixed parameter stays, a free one is identified from the logs and its prior;
///               trends of the films of a bank only if a look at part of the logs shows any.
/// @param progress  called after each round with the share of the work done, 0 .. 1.
/// @return       corrections with standard errors; cells and parameters that the logs do not reach stay at their prior.
/// Errors:       `fettle::error` naming the log, cell or parameter that does not fit.
/// Cost:         linear in rows.
[[nodiscard]] FETTLE_INLINE identification identify(const std::vector<recording>& logs,
                                                    const dynamic_table<double>& base, const dynamics& start,
                                                    identify_options options = {},
                                                    const std::function<void(double)>& progress = {});

}  // namespace fettle

#ifndef FETTLE_COMPILED
#include "fettle/lambda/detail/identify_definition.hpp"
#endif

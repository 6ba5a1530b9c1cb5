// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cstdint>
#include <string>
#include <vector>

#include "virtual_engine/engine.hpp"

namespace virtual_engine {

/// Physics of real engines that a model of films, path and sensors leaves out. An engine has none of it until
/// `add_physics` is called.
///
///   film       share and time of the wall films vary with charge and speed
///   pipes      each cylinder's gas arrives at the collector's sensor at its own time
///   lag        sensors answer in two stages, slower in one direction than in the other
///   reversion  the collector's sensor reads lean at little exhaust flow, for outside air gets to it
///   misfire    cycles that do not burn read lean
inline constexpr std::array<const char*, 5> physics_words{"film", "pipes", "lag", "reversion", "misfire"};

/// Switches physics on that the engine lacks.
///
/// @param words  of `physics_words`, or all.
/// @param seed   of what differs from engine to engine: the order of the pipes, the slow direction of each sensor.
/// Errors:       another word throws `fettle::error`.
void add_physics(engine& e, const std::vector<std::string>& words, std::uint64_t seed);

}  // namespace virtual_engine

// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <string_view>

namespace report {

/// What has to be said beside every result, on the terminal and in every report. Common practice, no source.
inline constexpr std::array<std::string_view, 8> cautions{
    "Mixtures that are too lean destroy engines within seconds. Change in small steps, towards rich first at high "
    "load.",
    "A sensor after the collector reads an average: one lean cylinder can hide behind its richer neighbours.",
    "Confirm every change with an independent measurement before you rely on it.",
    "Test only on a closed course or on a dynamometer, with ventilation, a fire extinguisher and a second person at "
    "hand.",
    "The exhaust is hot and fuel vapour ignites: keep skin, hoses and wiring away, and stop at the first smell of "
    "fuel.",
    "Exhaust gas is poisonous: never run an engine in a closed room without extraction.",
    "Local emission and road rules apply; an engine changed in this way may not be allowed on public roads.",
    "These are calculations from a log, not advice: a qualified person decides what goes into the engine.",
};

}  // namespace report

// SPDX-License-Identifier: MIT
#pragma once

#include <string_view>

namespace vehicle {

/// Said beside every result that asks for driving. Common practice, no source.
inline constexpr std::string_view road_caution =
    "Road tests only on a closed course, with marshals and a car checked for it: full-throttle pulls, coast-downs and "
    "changes of throttle or gearshift control can end in loss of control.";

}  // namespace vehicle

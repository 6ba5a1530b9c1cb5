// SPDX-License-Identifier: MIT
// A stranger's program by the single header: the dead time of an injector between two voltages.
#include "fettle.hpp"

constexpr fettle::axis<float, 3> battery_v{{8, 12, 16}};
constexpr fettle::table dead_time_ms{battery_v, {2.0F, 1.0F, 0.75F}};

int main() {
  return fettle::interpolate(dead_time_ms, 10) == 1.5F ? 0 : 1;
}
